"""Lists of plots: read whatever their program wrote, shown first, taken in whole or not at all, and out again."""

from __future__ import annotations

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from amendments.models import Standing
from plots import tables
from plots.models import Plot, PlotImport
from plots.services.plot_export import plots_as_csv
from plots.services.plot_import import ListRefused, accept, keep_draft, table_of, understand
from plots.tables import guarded, numbered_rows, text_and_encoding, unguarded
from tests.factories import make_plot, make_property
from tests.plots.pages import errors_of, soup_of, text_of

pytestmark = pytest.mark.django_db
ADDRESS = "/plots/import/?property=GROUND"
LIST = "code,name,acres,texture,access\nN-1,Owl Bottom,1.5,silt loam,lime truck\nN-2,,0.4,,on foot\n"


@pytest.fixture
def client(client_of, manager, ground):
    return client_of(manager)


def bring_in(client, text):
    """Paste a list and follow to its preview."""
    return client.post(ADDRESS, {"pasted": text}, follow=True)


def upload(client, content: bytes, name="plots.csv"):
    return client.post(ADDRESS, {"file": SimpleUploadedFile(name, content)}, follow=True)


class TestTakingIn:
    def test_shown_first_then_added(self, client, ground) -> None:
        preview = bring_in(client, LIST)
        assert "2 plots. Nothing has been added yet." in text_of(preview)
        assert not Plot.objects.exists()
        done = client.post(preview.redirect_chain[-1][0], follow=True)
        assert "2 plots added." in text_of(done)
        first, second = Plot.objects.all()
        assert (first.code, first.name, first.acres, first.texture) == (
            "N-1",
            "Owl Bottom",
            Decimal("1.5"),
            "silt_loam",
        )
        assert (first.access, second.access, second.tillage) == ("lime_truck", "on_foot", "tilled")
        assert first.history.get().history_user.username == "manager"
        assert Standing.objects.filter(plot__in=[first, second]).count() == 2

    def test_accepted_twice_it_is_added_once(self, client, ground) -> None:
        address = bring_in(client, LIST).redirect_chain[-1][0]
        client.post(address)
        again = client.post(address, follow=True)
        assert "This list was added already." in text_of(again)
        assert "This list was added already." in text_of(client.get(address, follow=True))
        assert Plot.objects.count() == 2
        assert PlotImport.objects.get().accepted_by.username == "manager"

    def test_it_is_checked_again_when_accepted(self, client, ground) -> None:
        address = bring_in(client, LIST).redirect_chain[-1][0]
        make_plot(ground, "n-2")
        response = client.post(address)
        assert response.status_code == 422
        assert "Nothing was added: see line 3." in errors_of(response)
        assert "plot n-2 is there already" in text_of(response)
        assert Plot.objects.count() == 1
        assert PlotImport.objects.get().state == "draft"

    def test_every_column(self, client, ground) -> None:
        head = "Plot Code;Area (ha);Soil;Organic;Till;Depth (in);Vehicle;Access months;Water;Steep;Sampling month;"
        row = "A 1;0,5;Sandy Loam;yes;no-till;4;Side by side;May-Jul, 9;x;no;Sept;6,5;two\\lines;2020-05-01"
        preview = bring_in(client, f"{head}target_pH;Notes;Retired\n{row}\n")
        client.post(preview.redirect_chain[-1][0])
        plot = Plot.objects.get()
        assert (plot.code, plot.area_entered, plot.area_unit, plot.acres_entered) == (
            "A 1", Decimal("0.5"), "ha", Decimal("1.2355"),
        )  # fmt: skip
        assert (plot.texture, plot.organic_soil, plot.tillage, plot.depth_limed_in) == (
            "sandy_loam",
            True,
            "no_till",
            4,
        )
        assert (plot.access, plot.access_months, plot.near_water, plot.slope) == (
            "side_by_side",
            [5, 6, 7, 9],
            True,
            False,
        )
        assert (plot.usual_sampling_month, plot.target_ph) == (9, Decimal("6.5"))
        assert plot.retired_on == dt.date(2020, 5, 1)

    def test_columns_that_mean_nothing_are_named(self, client, ground) -> None:
        preview = bring_in(client, "code,acres,Deer seen\n1,1,7\n")
        assert "Columns that are not used: Deer seen." in text_of(preview)

    def test_a_new_list_takes_the_place_of_the_draft(self, client, ground) -> None:
        bring_in(client, LIST)
        bring_in(client, LIST)
        assert PlotImport.objects.count() == 1

    def test_many_rows_in_pages(self, client, ground) -> None:
        rows = "".join(f"P{number},{number / 100}\n" for number in range(1, 251))
        preview = bring_in(client, f"code,acres\n{rows}")
        assert len(soup_of(preview).select("tbody tr")) == 100
        assert "Page 1 of 3" in text_of(preview)


PROBLEMS = [
    ("1,-3", "An area of -3 acres is not possible; allowed are 0.01 to 2,000 acres."),
    ("1,", "The area is missing."),
    ("1,big", "An area of “big” is no number."),
    (",2", "The code is missing."),
    ("N\u200b1,2", "U+200B"),
    ("old,2", "Code “old” is taken: plot OLD is there already"),
    ("2,1\n2,1", "Code “2” is taken: line 2 has it"),
    ("1,1,gumbo", "Texture “gumbo” is not known; allowed are sand, loamy sand"),
    ("1,1,,rocket", "Access “rocket” is not known; allowed are lime truck, tractor, side-by-side, on foot."),
    ("1,1,,,99", "Depth limed 99 inches is not possible; allowed are 1 to 12 inches."),
    ("1,1,,,,perhaps", "Near water “perhaps” is neither yes nor no."),
    ("1,1,,,,,Brumaire", "Access months “Brumaire” is no month"),
    ("1,1,,,,,,,,surplus", "The row has 10 cells and the headings name 9."),
    ("1,1,,,,,,14", "Target pH 14 is not possible; allowed are 4 to 8."),
    ("1,1,,,,,,,2999-01-01", "Retired on 2999-01-01 is not allowed"),
]
HEAD = "code,acres,texture,access,depth,near water,access months,target ph,retired on"


class TestProblems:
    @pytest.mark.parametrize(("row", "sentence"), PROBLEMS)
    def test_each_row_is_explained_and_nothing_is_added(self, client, ground, row, sentence) -> None:
        make_plot(ground, "OLD")
        preview = bring_in(client, f"{HEAD}\n{row}\nfine,1\n")
        assert preview.status_code == 200
        assert sentence in text_of(preview)
        assert "shown first" in text_of(preview)
        assert "Bring the list in again" in text_of(preview)
        assert client.post(preview.redirect_chain[-1][0]).status_code == 422
        assert Plot.objects.count() == 1

    def test_all_problems_of_a_row_at_once(self, client, ground) -> None:
        said = text_of(bring_in(client, f"{HEAD}\n,-1,gumbo\n"))
        for sentence in ("The code is missing.", "An area of -1 acres", "Texture “gumbo”"):
            assert sentence in said

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("", "Choose a file, or paste the list."),
            ("code,acres\n", "only one row"),
            ("plots of 2026\n1\n", "none is named code or area"),
            ("code,area\n1,2\n", "The unit of the area is missing."),
            ('code,acres\n1,"2\n', "Look for a quotation mark without its partner"),
            ("code,acres\nN\x001,2\n", "NUL"),
            ("code,acres\n" + "1,2\n" * 5001, "allowed are up to 5,000 at once"),
        ],
    )
    def test_what_is_no_list_stays_in_the_form(self, client, ground, text, sentence) -> None:
        response = client.post(ADDRESS, {"pasted": text})
        assert response.status_code == 422
        assert sentence in errors_of(response)
        kept = soup_of(response).select_one("textarea[name=pasted]").get_text()
        assert kept.strip("\n\x00").replace("\r", "")[:20].replace("\x00", "") == text.strip("\n")[:20].replace(
            "\x00", ""
        )
        assert not PlotImport.objects.exists()


FILES = [
    (b"", "The file is empty."),
    (b"%PDF-1.7 ...", "This is a PDF"),
    (b"PK\x03\x04" + b"x" * 40, "a zip or spreadsheet file"),
    (b"\x89PNG\r\n\x1a\n", "a picture"),
    (b"code,acres\n\x00\x01,2\n", "NUL"),
    (b"code,acres\n\x01,2\n", "Line 2 holds U+0001"),
    ("code,acres,name\n1,2,Поле у реки\n".encode("cp1251"), "neither UTF-8 nor Windows-1252"),
    ("code,acres,name\n1,2,北の畑\n".encode("shift_jis"), "neither UTF-8 nor Windows-1252"),
    ("code,acres,name\n1,2,Café\n".encode()[:-2] + b"\n", "neither UTF-8 nor Windows-1252"),
    ("code,acres,name\n1,2,Café au lait\n".encode("mac_roman"), "neither UTF-8 nor Windows-1252"),
    ("code,acres\n1,2\n".encode("utf-16")[:-1], "begins as UTF-16"),
]


class TestFiles:
    @pytest.mark.parametrize(
        "content",
        [
            LIST.encode(),
            LIST.encode("utf-8-sig"),
            LIST.replace(",", "\t").encode("utf-16"),
            LIST.replace(",", ";").replace("\n", "\r\n").encode("cp1252"),
            LIST.replace(",", "|").replace("\n", "\r").encode(),
            b"# Our plots\n\n" + LIST.encode() + b"\x1a",
        ],
    )
    def test_whatever_program_wrote_it(self, client, ground, content) -> None:
        assert "2 plots. Nothing has been added yet." in text_of(upload(client, content))

    def test_letters_of_older_machines(self, client, ground) -> None:
        preview = upload(
            client, "code,acres,name\n1,2,Crête d’Été, Größe ½°\n".replace("té, ", "té; ").encode("cp1252")
        )
        assert "Crête d’Été; Größe ½°" in text_of(preview)
        assert "read as Windows-1252" in text_of(preview)

    @pytest.mark.parametrize(("content", "sentence"), FILES)
    def test_what_is_no_table_is_refused(self, client, ground, content, sentence) -> None:
        response = upload(client, content)
        assert response.status_code == 422
        assert sentence in errors_of(response)
        assert not PlotImport.objects.exists()

    def test_fifty_megabytes_are_refused_before_they_are_read(self, client, ground, monkeypatch) -> None:
        monkeypatch.setattr(tables, "text_and_encoding", None)
        response = upload(client, b"code,acres\n" + b"1,2\n" * 13_000_000)
        assert response.status_code == 422
        assert "The file is 52 MB large; allowed are up to 20 MB." in errors_of(response)

    def test_a_file_and_a_pasted_list(self, client, ground) -> None:
        response = client.post(ADDRESS, {"pasted": LIST, "file": SimpleUploadedFile("plots.csv", LIST.encode())})
        assert "Send one of them." in errors_of(response)

    def test_a_row_is_named_by_its_line_in_the_file(self) -> None:
        rows = numbered_rows('# a\n\ncode;x\n"a\nb";1\n\n#7;2\n')
        assert rows == [(3, ["code", "x"]), (4, ["a\nb", "1"]), (7, ["#7", "2"])]


class TestGoingOut:
    def test_formulas_are_guarded_and_numbers_are_not(self, client, ground) -> None:
        make_plot(ground, "=1+1", name="@home", note="-wet\n+end", acres="0.5")
        text = client.get("/plots/export/?property=GROUND").content.decode("utf-8-sig")
        (_, head), (_, row) = _raw(text)
        cells = dict(zip(head, row, strict=True))
        assert (cells["code"], cells["name"], cells["note"]) == ("'=1+1", "'@home", "'-wet\n+end")
        assert cells["area"] == "0.5"

    def test_it_comes_in_again_as_it_went_out(self, client, client_of, ground, stranger) -> None:
        make_plot(ground, "=A", name="'tis", acres="10", texture="clay", access="on_foot", access_months=[1, 12],
                  organic_soil=True, near_water=True, slope=True, usual_sampling_month=9, target_ph=Decimal("6.4"),
                  tillage="sod", depth_limed_in=Decimal("3.5"), note="two\nlines",
                  retired_on=dt.date(2021, 2, 3))  # fmt: skip
        make_plot(ground, "2", area_entered=Decimal("0.1234"), area_unit="ha", acres_entered=Decimal("0.3049"))
        content = client.get("/plots/export/?property=GROUND").content
        other = client_of(stranger)
        preview = other.post(
            "/plots/import/?property=ELSEWHERE", {"file": SimpleUploadedFile("plots.csv", content)}, follow=True
        )
        other.post(preview.redirect_chain[-1][0])
        here, there = (
            [
                {name: value for name, value in row.items() if name not in ("id", "property_id", "version")}
                for row in rows
            ]
            for rows in (ground.plots.values(), stranger.roles.get().property.plots.values())
        )
        assert here == there

    def test_members_may_have_the_list_and_strangers_not(self, cast, client_of) -> None:
        expected = {"manager": 200, "hand": 200, "viewer": 200, "stranger": 404, "operator": 404}
        for who, status in expected.items():
            assert client_of(cast.people()[who]).get("/plots/export/?property=GROUND").status_code == status

    def test_a_draft_is_its_property_s(self, client, cast, client_of) -> None:
        address = bring_in(client, LIST).redirect_chain[-1][0]
        for who, status in {"hand": 403, "viewer": 403, "stranger": 404, "operator": 404}.items():
            assert client_of(cast.people()[who]).post(address).status_code == status
        assert not Plot.objects.exists()

    def test_the_same_number_of_queries_for_any_number_of_plots(
        self, client, ground, django_assert_num_queries, django_assert_max_num_queries
    ) -> None:
        make_plot(ground, "first")
        client.get("/plots/export/?property=GROUND")  # which is then the property used last
        with django_assert_max_num_queries(12) as counted:
            client.get("/plots/export/?property=GROUND")
        for _ in range(20):
            make_plot(ground)
        with django_assert_num_queries(len(counted)):
            client.get("/plots/export/?property=GROUND")


def _raw(text: str):
    """The cells as they stand in the file, guards and all."""
    return [(number, row) for number, row in enumerate(csv.reader(io.StringIO(text)))]


LETTERS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co", "Cf", "Zl", "Zp")), max_size=12
)


class TestGuards:
    @given(st.text(max_size=20))
    def test_what_is_guarded_is_no_formula_and_comes_back(self, text: str) -> None:
        assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))
        assert unguarded(guarded(text)) == text

    @given(st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=60))
    def test_utf_8_is_read_as_it_is(self, text: str) -> None:
        if text.startswith("\ufeff"):
            return
        assert text_and_encoding(b"code,acres\n" + text.encode())[0] == f"code,acres\n{text}"

    @settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40)
    @given(rows=st.lists(st.tuples(LETTERS, LETTERS, st.decimals(Decimal("0.01"), 2000, places=4)), max_size=4))
    def test_any_list_is_taken_in_whole_or_not_at_all(self, manager, rows) -> None:
        property_ = make_property(manager=manager)
        lines = "".join(f'"{_quoted(code)}","{_quoted(name)}",{acres}\n' for code, name, acres in rows)
        try:
            table = table_of(f"code,name,acres\n{lines}")
        except tables.Unreadable:
            assert rows == []  # a head alone is no list; nothing else of these is refused as unreadable
            return
        draft = keep_draft(property_, table, by=manager)
        wrong = understand(draft).wrong
        if wrong:
            with pytest.raises(ListRefused):
                accept(draft, by=manager)
            assert property_.plots.count() == 0
            return
        assert accept(draft, by=manager) == property_.plots.count() == len(rows)
        other = make_property(manager=manager)
        again = keep_draft(other, table_of(plots_as_csv(property_.plots.all()).decode("utf-8-sig")), by=manager)
        assert understand(again).wrong == ()
        accept(again, by=manager)
        kept = ("code", "name", "area_entered", "acres_entered")
        assert list(other.plots.values_list(*kept)) == list(property_.plots.values_list(*kept))


def _quoted(text: str) -> str:
    return text.replace('"', '""')


def test_the_pattern_of_an_address_names_the_property(client, ground) -> None:
    page = soup_of(client.get(reverse("plots:import_plots"), {"property": "GROUND"}))
    assert page.select_one("main form")["action"] == ADDRESS
