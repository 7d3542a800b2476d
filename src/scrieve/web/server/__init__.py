"""What stands around the pages: serving, guard, certificates, answers kept and answers given once."""
