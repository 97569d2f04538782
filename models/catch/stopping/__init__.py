"""What crews go on to catch until they stop, learnt from past jobs. START HERE: predict_stopping.py."""
