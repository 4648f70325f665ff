"""Lessons: questions as data, the five bands of colour, pictures, and what is printed or shown on a wall.

lesson_file
    judge, load
sheets
    handout, slides, teachers_page
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
