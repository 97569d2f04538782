"""What would come if the flow went on until nothing more came out. START HERE: exhaustion_forecast.py."""
