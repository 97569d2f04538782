"""Parts of pages: each draws one piece with Streamlit, so that a page stays a short script."""
