"""The pages of the frames: their list, one frame, a trial of one."""
