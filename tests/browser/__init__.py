"""Tests in a real browser: JupyterLab in headless Chromium."""
