"""What a job will give and take, and the price."""
