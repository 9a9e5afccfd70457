"""Every workbook: its form, and a run from top to bottom whose stored widgets hold no error."""

import json
import os
import re
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parents[1] / "workbooks"
WORKBOOKS = sorted(FOLDER.glob("*.ipynb"))
BAD = ('role="alert"', "Traceback", "not updated: see message")


@pytest.mark.parametrize("path", WORKBOOKS, ids=lambda path: path.stem)
def test_a_workbook_has_the_form_of_the_house(path):
    book = nbformat.read(path, 4)
    assert book.cells[0].cell_type == "markdown"
    assert book.cells[0].source.startswith("# ")
    assert book.metadata.kernelspec.name == "python3"
    for cell in (c for c in book.cells if c.cell_type == "code"):
        lines = [line for line in cell.source.splitlines() if line.strip()]
        assert lines[0].startswith("# "), f"no readable first line: {cell.source}"
        assert len(lines) <= 5, f"a long cell: {cell.source}"
        assert not cell.outputs
        assert cell.execution_count is None
    text = "\n".join(c.source for c in book.cells)
    assert "public road" in text or "teaching model" in text, "the bounds of the model are not stated"


@pytest.mark.parametrize("path", WORKBOOKS, ids=lambda path: path.stem)
def test_a_workbook_links_to_the_code_of_its_panels(path):
    book = nbformat.read(path, 4)
    linked = set(re.findall(r"\((\.\./vdlib/panels/\w+\.py)\)", book.cells[-1].source))
    assert linked
    assert all((FOLDER / one).is_file() for one in linked)
    calls = " ".join(cell.source for cell in book.cells if cell.cell_type == "code")
    assert all(Path(one).stem in calls.lower() for one in linked)


@pytest.mark.slow  # the run that nbval makes and the one in the browser see the same faults in every run of the tests
@pytest.mark.parametrize("path", WORKBOOKS, ids=lambda path: path.stem)
def test_a_workbook_runs_and_its_widgets_hold_no_error(path, tmp_path, monkeypatch):
    monkeypatch.setenv("VDLIB_CARS", str(tmp_path / "my-cars"))
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    book = nbformat.read(path, 4)
    client = NotebookClient(book, timeout=120, store_widget_state=True, resources={"metadata": {"path": str(tmp_path)}})
    client.execute(env=os.environ.copy())
    for cell in (c for c in book.cells if c.cell_type == "code"):
        for output in cell.outputs:
            assert output.output_type != "error", output
            assert output.get("name") != "stderr", output
    state = json.dumps(book.metadata.get("widgets", {}))
    assert [bad for bad in BAD if bad in state.replace('\\"', '"')] == []
    assert "image/png" in json.dumps([c.get("outputs") for c in book.cells]) or "jupyter.widget" in json.dumps(
        [c.get("outputs") for c in book.cells]
    ), "nothing was shown"
