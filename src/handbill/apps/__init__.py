"""Programs that stand on the whole pipeline: samples of blocks, the gallery, new campaigns and styles."""
