"""What files may say: pydantic models of workspace, brand, campaign, product and review."""
