"""Planking: strakes between seams, spiling, expansion flat, edges and backing out."""
