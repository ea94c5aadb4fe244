"""Which pages there are: for each name, how the page begins, given what it is to be about."""

from collections.abc import Callable, Mapping

from fermwatch.dashboard.pages.alarms import Alarms
from fermwatch.dashboard.pages.batch import BatchPage
from fermwatch.dashboard.pages.batches import Batches, Beside
from fermwatch.dashboard.pages.bottling import Bottling
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.dashboard.pages.instruments import Instruments
from fermwatch.dashboard.pages.overview import Overview
from fermwatch.dashboard.pages.packages import Packages
from fermwatch.dashboard.pages.page import Page
from fermwatch.dashboard.pages.regulating import Regulating

FIRST = Overview.NAME
PAGES: Mapping[str, Callable[[str], Page]] = {
    page.NAME: page
    for page in (Overview, Fermenter, Regulating, Packages, Bottling, BatchPage, Batches, Beside, Alarms, Instruments)
}
