"""Keys pressed while the cells of a workbook still run: the picture is the one of the last state, whole."""

import random

import pytest

from vdlib.car import examples
from vdlib.panels import what_is_out

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


def at_rest(book):
    """The picture once it stays what it is: a machine under load may pause longer than between two looks."""
    before = b""
    for _ in range(20):
        now = book.sharp()
        if now == before:
            return now
        before = now
        book.page.wait_for_timeout(1500)
    raise TimeoutError("the picture did not come to rest")


def comes_to(book, handle, wanted, shown, complaint):
    """Go to a state, again where the slider was moved back late, until its picture is the one that was shown."""

    def there():
        go_to(book, handle, wanted)
        return book.sharp() == shown

    book.wait_for(there, complaint, 60)


def one_round(book, number):
    book.turn_to(BOOK)
    handle, pressed = press_while_running(book, random.Random(number))
    assert pressed > 3  # the cells below did still run
    shown, wanted = at_rest(book), value(handle)
    assert book.errors() == []
    book.press(None, "ArrowRight", 2)
    comes_to(book, handle, wanted, shown, "the picture is another one after a move away and back")
    return wanted, shown


def in_a_fresh_kernel(book, wanted, shown):
    """The same picture in a kernel in which nothing was pressed while its cells ran."""
    book.turn_to(BOOK)
    book.run_all()
    handle = book.slider()
    handle.focus()
    comes_to(book, handle, wanted, shown, "the picture is another one in a fresh kernel")


@pytest.mark.parametrize("number", range(1))
def test_keys_pressed_during_run_all_leave_a_whole_picture(notebook, number):
    wanted, shown = one_round(notebook, number)
    here = what_is_out.panel(examples.load_example(examples.FIRST))  # the panel of the first slider, without a kernel
    here.set_all({next(name for name, control in here.controls.items() if hasattr(control, "readout")): wanted})
    assert here.image.value == shown


@pytest.mark.slow
@pytest.mark.parametrize("number", range(1, 21))
def test_keys_pressed_during_run_all_leave_a_whole_picture_every_time(notebook, number):
    in_a_fresh_kernel(notebook, *one_round(notebook, number))
