"""Keys pressed while the cells of a workbook still run: the picture is the one of the last state, whole."""

import random

import pytest

BOOK = "09-before-the-workshop.ipynb"


def value(handle):
    return float(handle.get_attribute("aria-valuenow"))


def press_while_running(book, chance):
    """Run all cells and press keys on the first slider until the last of them has ended; give the keys pressed."""
    book.page.evaluate(
        """() => { window.ended = false;
        jupyterapp.commands.execute('notebook:run-all-cells').then(() => { window.ended = true; }); }"""
    )
    handle = book.page.locator(".jp-Notebook .widget-slider .noUi-handle").first
    handle.wait_for(timeout=60_000)
    pressed = 0
    while not book.page.evaluate("window.ended") and pressed < 400:
        handle.focus()
        book.page.keyboard.press(chance.choice(["ArrowRight", "ArrowRight", "ArrowLeft"]))
        book.page.wait_for_timeout(chance.choice([20, 60, 150]))
        pressed += 1
    book.page.wait_for_function("window.ended", timeout=120_000)
    return handle, pressed


def go_to(book, handle, wanted):
    """Press keys until the slider is where it is wanted; the pictures on the way need not all be shown."""
    for _ in range(400):
        if (now := value(handle)) == wanted:
            return
        book.page.keyboard.press("ArrowLeft" if now > wanted else "ArrowRight")
        book.page.wait_for_timeout(20)
    raise AssertionError(f"the slider came to {value(handle)} and not to {wanted}")


def one_round(book, number):
    book.turn_to(BOOK)
    handle, pressed = press_while_running(book, random.Random(number))
    assert pressed > 3  # the cells below did still run
    shown, wanted = book.sharp(), value(handle)
    assert book.errors() == []
    book.press(None, "ArrowRight", 2)
    go_to(book, handle, wanted)  # away and back, now that nothing else runs
    book.wait_for(lambda: book.sharp() == shown, "the picture of this state is another one after a move away and back")
    book.turn_to(BOOK)  # and in a kernel in which nothing was pressed meanwhile
    book.run_all()
    handle = book.slider()
    handle.focus()
    go_to(book, handle, wanted)
    book.wait_for(lambda: book.sharp() == shown, "the picture of this state is another one in a fresh kernel")


@pytest.mark.parametrize("number", range(1))
def test_keys_pressed_during_run_all_leave_a_whole_picture(notebook, number):
    one_round(notebook, number)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(1, 21))
def test_keys_pressed_during_run_all_leave_a_whole_picture_every_time(notebook, number):
    one_round(notebook, number)
