"""Which lanes are shown around the cursor: all of them where they fit, else as many as there is room for."""

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.drawing import page
from fermwatch.drawing.page import Sheet, overview
from tests.dashboard.snapshots import many


@given(st.lists(st.integers(1, 24), min_size=1, max_size=14), st.integers(-40, 4), st.data())
def test_no_lane_is_hidden_while_there_is_room_for_it(heights: list[int], spare: int, data: st.DataObject) -> None:
    room = max(sum(heights) + spare, 1)
    selected = data.draw(st.integers(0, len(heights) - 1))
    shown = page.window(heights, room, selected)
    assert selected in shown
    used = sum(heights[number] for number in shown)
    if sum(heights) <= room:
        assert len(shown) == len(heights)
        return
    assert used < room or len(shown) == 1  # a row is left to say how many more there are
    beside = [heights[number] for number in (shown.start - 1, shown.stop) if 0 <= number < len(heights)]
    assert all(used + height >= room for height in beside)


def test_going_down_hides_no_fermenter_at_any_size() -> None:
    for size in ((80, 24), (80, 23), (120, 40), (40, 12), (100, 30), (66, 20)):
        for count in (2, 3, 4, 5):
            shown = [set(overview(many(count), Sheet(*size), selected).owners) - {-1} for selected in range(count)]
            if any(len(one) == count for one in shown):
                assert all(len(one) == count for one in shown), (size, count)
