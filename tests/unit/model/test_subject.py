"""A subject is made, and read back, in one place."""

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.subject import About, about_fermenter, kind_of, name_of


@given(st.sampled_from(About), st.text())
def test_what_was_made_is_read_back_whatever_the_name_holds(about: About, name: str) -> None:
    assert (kind_of(about.of(name)), name_of(about.of(name))) == (about, name)


def test_all_that_is_said_of_a_fermenter_has_one_of_its_subjects() -> None:
    assert about_fermenter("left", ["t1", "g1"], "B1") == {"vessel:left", "probe:t1", "probe:g1", "batch:B1"}
    assert about_fermenter("left", [], None) == {"vessel:left"}
