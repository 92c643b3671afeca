"""The whole app in a real browser, used as a sewist uses it: by what is written on the screen, and by keys."""
