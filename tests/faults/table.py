"""The faults, what is promised in each, and the test that holds the promise: the table of docs/reliability.md."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]


@dataclass(frozen=True)
class Row:
    """fault, promise: as the page has them. test: `folder/file::function`, below tests/."""

    fault: str
    promise: str
    test: str

    @property
    def markdown(self) -> str:
        """The row as it stands in the page."""
        return f"| {self.fault} | {self.promise} | `{self.test}` |"


ROWS = (
    Row(
        "`kill -9` at a random moment",
        "at most the last second is missing; the log reads, no pulse is wrong",
        "faults/test_ended.py::test_kill_9_at_a_random_moment",
    ),
    Row("SIGTERM", "every byte, the summary, exit code 0", "faults/test_ended.py::test_sigterm"),
    Row("Ctrl-C twice", "as once: the end is not interrupted", "faults/test_ended.py::test_sigint_twice"),
    Row(
        "Ctrl-C while it is being loaded",
        "it ends, with one line at most",
        "faults/test_ended.py::test_sigint_while_it_is_still_being_loaded",
    ),
    Row(
        "the same, at a moment when Python throws the interrupt away",
        "the same",
        "faults/test_ended.py::test_sigint_that_goes_astray_while_it_is_being_loaded",
    ),
    Row(
        "a full disk",
        "what found room stays and reads; one line, exit code 1",
        "faults/test_disk.py::test_full_disk",
    ),
    Row(
        "a read-only folder",
        "one line, exit code 2, before anything is recorded",
        "faults/test_disk.py::test_read_only_folder",
    ),
    Row(
        "the log deleted while it is recorded",
        "it is back within about a second, with every byte",
        "faults/test_disk.py::test_deleted_log",
    ),
    Row(
        "its folder deleted",
        "folder and log are back within about a second, with every byte",
        "faults/test_disk.py::test_deleted_folder",
    ),
    Row("the log moved", "the recording goes on in the moved file", "faults/test_disk.py::test_moved_log"),
    Row(
        "the log replaced by another file",
        "the other file is left alone, every byte is kept beside it; one line, exit code 1",
        "faults/test_disk.py::test_log_whose_name_another_file_has_taken",
    ),
    Row(
        "unplugged in the middle of a line, and plugged in again",
        "every byte that was read; the torn line neither adds nor hides a pulse",
        "faults/test_line.py::test_unplugged_in_the_middle_of_a_line",
    ),
    Row(
        "half the baud rate",
        "no pulse is read out of it; one line says where to look, exit code 1",
        "faults/test_line.py::test_half_the_baud_rate",
    ),
    Row(
        "the board resets in the middle of a line",
        "recorded on; both parts are measured, no turn across, ratio within 0.05 %, and a note says so",
        "faults/test_line.py::test_board_reset_in_the_middle_of_a_line",
    ),
    Row(
        "the board's clock jumps back",
        "the same",
        "faults/test_line.py::test_board_clock_that_jumps_back",
    ),
    Row(
        "the host's clock is set (a time server's step, a hand)",
        "pulses and the ties of the board's clock are as without it; `lost` and `resumed` have the new time",
        "faults/test_clocks.py::test_host_clock_stepped",
    ),
    Row(
        "summer time ends",
        "moments in the log have their offset and stay in order; ties are as without it",
        "faults/test_clocks.py::test_summer_time_ends",
    ),
    Row(
        "the program sleeps (SIGSTOP, SIGCONT)",
        "what the system's buffer took is in the log, the rest is counted as lost; no tie by a line that had waited",
        "faults/test_clocks.py::test_asleep",
    ),
    Row(
        "two recorders on one port",
        "the second is refused, exit code 2; the first has every byte",
        "faults/test_line.py::test_two_recorders_on_one_port",
    ),
    Row(
        "a log of gigabytes, most of it a hole",
        "its lines are measured, in the memory of a small log",
        "faults/test_reading.py::test_a_huge_log_with_a_hole",
    ),
    Row(
        "a log with more lines than memory can hold",
        "refused in one line before the memory is used up, exit code 2",
        "faults/test_reading.py::test_a_log_of_more_lines_than_memory_holds",
    ),
    Row(
        "a log on a pipe, in pieces, torn at its end",
        "the answer is that of the file",
        "faults/test_reading.py::test_a_log_on_a_pipe",
    ),
    Row(
        "a log that is being written while it is read",
        "the answer is that of a beginning of it; never refused, never damaged",
        "faults/test_reading.py::test_a_log_that_grows_while_it_is_read",
    ),
)
