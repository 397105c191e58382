"""Order sizes, equal batches and the people at the lift."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.batch import Order, lifting_crew, lifting_note, order
from scheduling.errors import BadInput
from scheduling.job import Piece
from scheduling.shop import Mix
from scheduling.takeoff import take_off
from scheduling.units import Units

SI = Units()
SLAB = take_off(Piece(length=1.5, width=0.5, thickness=0.025), Mix())


def of(face_kg, back_kg, mixer=25.0, *, coupon=False):
    took = replace(SLAB, face_kg=face_kg, back_kg=back_kg)
    return order(took, mixer, coupon=coupon)


class TestOrder:
    def test_small_face_coats_lose_two_kilograms_in_the_hose(self):
        assert of(5.0, 30.0).face_kg == 7.0

    def test_large_face_coats_lose_fifteen_percent(self):
        assert of(40.0, 100.0).face_kg == 46.0

    def test_exact_half_kilograms_are_not_rounded_up_again(self):
        # 50 x 1.08 is 54.000000000000004 or so in floating point.
        assert of(5.0, 50.0).back_kg == 54.0
        assert of(20.0, 50.0).face_kg == 23.0

    def test_back_is_rounded_up_to_the_next_half(self):
        assert of(5.0, 50.1).back_kg == 54.5

    def test_a_coupon_board_takes_two_and_a_half_kilograms(self):
        plain, with_board = of(5.0, 50.0), of(5.0, 50.0, coupon=True)
        assert with_board.back_kg - plain.back_kg == 2.5
        assert with_board.face_kg == plain.face_kg

    def test_an_order_of_whole_loads_takes_no_extra_batch(self):
        got = of(5.0, 50.0, mixer=18.0)
        assert (got.batches, got.batch_kg) == (3, 18.0)

    def test_face_coat_is_divided_too(self):
        got = of(40.0, 100.0)
        assert (got.face_batches, got.face_batch_kg) == (2, 23.0)

    @pytest.mark.parametrize("load", [0.0, -5.0, float("nan"), float("inf")])
    def test_refuses_a_mixer_that_holds_nothing(self, load):
        with pytest.raises(BadInput, match="mixer_load"):
            of(5.0, 50.0, mixer=load)

    @settings(max_examples=200, deadline=None)
    @given(
        face=st.floats(0.1, 200),
        back=st.floats(0.1, 2000),
        load=st.floats(5, 200),
        coupon=st.booleans(),
    )
    def test_batches_make_up_the_order_and_fit_the_mixer(
        self, face, back, load, coupon
    ):
        got = of(face, back, load, coupon=coupon)
        assert got.face_kg >= max(face * 1.15, face + 2) - 1e-6
        assert got.back_kg >= back * 1.08 - 1e-6
        assert got.face_kg % 0.5 == 0.0
        assert got.back_kg % 0.5 == 0.0
        assert got.back_kg <= back * 1.08 + (2.5 if coupon else 0.0) + 0.5
        for total, count, each in (
            (got.face_kg, got.face_batches, got.face_batch_kg),
            (got.back_kg, got.batches, got.batch_kg),
        ):
            assert count * each == pytest.approx(total)
            assert each <= load * (1 + 1e-6)
            # One batch fewer would overfill the mixer.
            assert count == 1 or total / (count - 1) > load


class TestLifting:
    """23 kg is published, second hand; the other bounds are common practice."""

    @pytest.mark.parametrize(
        ("piece_kg", "crew"),
        [(5, 1), (23, 1), (23.1, 2), (35, 2), (35.1, 3), (60, 3), (60.1, 4), (135, 4)],
    )
    def test_crew_by_mass(self, piece_kg, crew):
        assert lifting_crew(piece_kg) == crew

    def test_note_shows_the_mass_in_both_units(self):
        assert lifting_note(69.24, SI).startswith("69.24 kg: ")
        assert "lb" in lifting_note(69.24, Units("us"))

    @pytest.mark.parametrize(
        ("piece_kg", "words"),
        [(10, "one person"), (30, "two people"), (50, "three or four people")],
    )
    def test_note_says_how_many(self, piece_kg, words):
        note = lifting_note(piece_kg, SI)
        assert words in note
        assert "guideline" not in note

    def test_over_sixty_kilograms_wants_a_mechanical_aid(self):
        note = lifting_note(69.2, SI)
        assert "above the usual guideline" in note
        assert "a cart or hoist planned before the form is built" in note

    @pytest.mark.parametrize("piece_kg", [10, 30, 50, 100])
    def test_every_note_defers_to_local_rules(self, piece_kg):
        assert "local lifting rules come first" in lifting_note(piece_kg, SI)

    @pytest.mark.parametrize("piece_kg", [0.0, -1.0, float("nan"), float("inf")])
    @pytest.mark.parametrize("ask", [lifting_crew, partial(lifting_note, units=SI)])
    def test_refuses_a_mass_that_is_none(self, ask, piece_kg):
        with pytest.raises(BadInput, match="above 0 kg"):
            ask(piece_kg)


def test_the_fibre_of_a_batch_is_that_of_the_worked_sheet():
    """22.67 kg of back mix takes 0.660 kg of fibre: derived, an invented piece."""
    assert Order(0, 68, 1, 11, 3, 22.67).fibre_kg == pytest.approx(0.660, abs=0.001)
