import pytest

from resupply.common.errors import TripFileError
from resupply.common.quantity import as_sentence
from resupply.common.show import text
from resupply.kitchen.food.amounts import convert, say_amount
from resupply.kitchen.food.packs import cover


def test_spoons_cups_and_ounces_become_what_is_sold():
    assert convert(3, "tsp", "ml") == pytest.approx(15)
    assert convert(1, "cup", "ml") == pytest.approx(236.588, abs=0.001)
    assert convert(1, "lb", "g") == pytest.approx(453.592, abs=0.001)
    assert convert(1, "fl_oz", "ml") == pytest.approx(29.5735, abs=0.0001)


@pytest.mark.parametrize("unit", ["", "ell", "g*g", "g**9**9", "__class__", "kg + kg", "metre"])
def test_what_is_no_kitchen_unit_is_refused(unit):
    with pytest.raises(TripFileError, match="is not known"):
        convert(1, unit, "g")


def test_grams_do_not_become_pieces():
    with pytest.raises(TripFileError, match="cannot be turned into piece"):
        convert(1, "g", "piece")


@pytest.mark.parametrize(
    ("amount", "unit", "said"),
    [
        (999.7, "g", "1 kg"),
        (12345, "g", "12.3 kg"),
        (2.5, "piece", "2.5"),
        (0.333, "piece", "0.33"),
        (1500, "ml", "1.5 L"),
        (140, "g", "140 g"),
    ],
)
def test_amounts_read_as_on_a_list(amount, unit, said):
    assert text(as_sentence(say_amount(amount, unit))) == said


def test_the_least_is_left_over_then_the_fewest_packs():
    assert cover(900, [400, 600]) == ((600, 1), (400, 1))
    assert cover(1200, [400, 600]) == ((600, 2),)
    assert cover(7, [6, 8]) == ((8, 1),)
    assert cover(20, [6, 8]) == ((8, 1), (6, 2))


def test_float_dust_buys_no_extra_pack():
    assert cover(0.1 + 0.2 + 0.7, [1]) == ((1, 1),)


def test_a_huge_need_is_covered_too():
    packs = dict(cover(4e9, [7, 100_000]))
    assert sum(size * count for size, count in packs.items()) >= 4e9
