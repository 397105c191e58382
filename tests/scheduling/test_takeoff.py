"""What must hold for the take-off of any piece."""

from __future__ import annotations

from dataclasses import astuple, fields, replace
from math import isfinite

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.job import (
    SIDES,
    Apron,
    Bare,
    BareZone,
    Basin,
    Foam,
    KnockOut,
    Leg,
    Pads,
    Piece,
)
from scheduling.shop import Mix
from scheduling.takeoff import Takeoff, take_off

MIX = Mix()
SLAB = Piece(length=1.5, width=0.5, thickness=0.025)
NUMBERS = [field.name for field in fields(Takeoff) if field.name != "zones"]


def sizes(low, high):
    """Lengths in whole millimetres, as people write them."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda mm: mm / 1000)


@st.composite
def foams(draw, body):
    length, width, thickness = body
    return Foam(
        length * draw(st.floats(0.1, 0.8)),
        width * draw(st.floats(0.1, 0.8)),
        thickness * draw(st.floats(0.1, 0.5)),
    )


@st.composite
def legs(draw, side, length, top):
    height, thickness = draw(sizes(0.3, 0.9)), draw(sizes(0.03, 0.1))
    width = length * draw(st.sampled_from((0.5, 1.0)))
    foam = draw(st.none() | foams((width, height - top, thickness)))
    return Leg(f"{side} leg", side, height, width, thickness, foam, draw(st.booleans()))


@st.composite
def basins(draw):
    length, width = draw(sizes(0.3, 0.5)), draw(sizes(0.2, 0.3))
    return Basin(
        "basin",
        length,
        width,
        length - draw(sizes(0.0, 0.1)),
        width - draw(sizes(0.0, 0.1)),
        draw(sizes(0.06, 0.15)),
        draw(sizes(0.06, 0.15)),
        (KnockOut("round", 0.046, 0.046),),
    )


@st.composite
def pieces(draw):
    length, width = draw(sizes(0.9, 2.4)), draw(sizes(0.5, 0.9))
    thickness = draw(sizes(0.016, 0.05))
    hung = {
        side: draw(st.sampled_from(["apron", "leg", "plain", "wall"])) for side in SIDES
    }

    def of(side):
        return length if side in {"front", "back"} else width

    return Piece(
        length,
        width,
        thickness,
        foam=draw(st.none() | foams((length * 0.5, width * 0.5, thickness))),
        wall_edges=tuple(side for side in SIDES if hung[side] == "wall"),
        aprons=tuple(
            Apron(side, thickness + draw(sizes(0.01, 0.15)))
            for side in SIDES
            if hung[side] == "apron"
        ),
        legs=tuple(
            draw(legs(side, of(side), thickness))
            for side in SIDES
            if hung[side] == "leg"
        ),
        basins=tuple(draw(st.lists(basins(), max_size=1))),
        knock_outs=(KnockOut("round", 0.035, 0.035, draw(st.integers(1, 3))),),
        pads=(Pads(draw(st.integers(0, 4)), 0.15, 0.15, 0.02),),
        inserts=draw(st.integers(0, 8)),
    )


bare_pours = st.builds(
    Bare,
    zones=st.lists(
        st.builds(BareZone, st.sampled_from("ab"), st.floats(0.1, 5), st.booleans()),
        min_size=1,
        max_size=4,
    ).map(tuple),
    thickness=sizes(0.01, 0.05),
)
_quick = settings(max_examples=100, deadline=None)


def of_any_shape(test):
    return _quick(given(shape=pieces() | bare_pours)(test))


def of_any_piece(test):
    return _quick(given(piece=pieces(), more=sizes(0.01, 1.0))(test))


class TestAnyShape:
    @of_any_shape
    def test_every_value_is_finite_and_none_is_negative(self, shape):
        took = take_off(shape, MIX)
        values = [getattr(took, name) for name in NUMBERS]
        values += [value for zone in took.zones for value in astuple(zone)[1:]]
        assert all(isfinite(value) and value >= 0 for value in values)

    @of_any_shape
    def test_zones_add_up_to_the_totals_exactly(self, shape):
        took = take_off(shape, MIX)
        assert sum(zone.face_m2 for zone in took.zones) == took.face_m2
        assert sum(zone.upright_m2 for zone in took.zones) == took.upright_m2
        assert sum(zone.fillet_m for zone in took.zones) == took.fillet_m

    @of_any_shape
    def test_upright_and_flat_make_up_the_face(self, shape):
        took = take_off(shape, MIX)
        assert took.upright_m2 <= took.face_m2 * (1 + 1e-12)
        assert took.flat_m2 + took.upright_m2 == pytest.approx(took.face_m2)

    @of_any_shape
    def test_doubling_the_densities_doubles_the_masses(self, shape):
        heavy = replace(
            MIX,
            face_density=2 * MIX.face_density,
            back_density=2 * MIX.back_density,
        )
        light, double = take_off(shape, MIX), take_off(shape, heavy)
        for name in NUMBERS:
            factor = 2 if name in {"face_kg", "back_kg", "piece_kg"} else 1
            assert getattr(double, name) == factor * getattr(light, name)

    @of_any_shape
    def test_the_piece_is_its_two_coats(self, shape):
        took = take_off(shape, MIX)
        face_l = took.face_kg / MIX.face_density * 1000
        back_l = took.back_kg / MIX.back_density * 1000
        assert took.piece_kg == took.face_kg + took.back_kg
        assert face_l + back_l == pytest.approx(took.volume_l)
        assert face_l == pytest.approx(took.face_m2 * shape.face_coat * 1000)


class TestAnyPiece:
    @of_any_piece
    @pytest.mark.parametrize("key", ["length", "width"])
    def test_a_bigger_top_has_more_of_everything(self, piece, more, key):
        small = take_off(piece, MIX)
        big = take_off(replace(piece, **{key: getattr(piece, key) + more}), MIX)
        for name in ("plan_m2", "base_m2", "face_m2", "edge_m", "fillet_m"):
            assert getattr(big, name) > getattr(small, name)
        assert big.volume_l > small.volume_l
        assert big.upright_m2 >= small.upright_m2

    @of_any_piece
    def test_foam_only_takes_volume_and_back_coat_away(self, piece, more):
        core = Foam(piece.length * 0.4, more * 0.2, piece.thickness * 0.4)
        solid = take_off(replace(piece, foam=None), MIX)
        cored = take_off(replace(piece, foam=core), MIX)
        gone = core.length * core.width * core.thickness * 1000
        assert solid.volume_l - cored.volume_l == pytest.approx(gone)
        assert cored.foam_l - solid.foam_l == pytest.approx(gone)
        assert cored.foam_count == solid.foam_count + 1
        assert cored.piece_kg < solid.piece_kg
        assert cored.back_kg < solid.back_kg
        assert (cored.face_m2, cored.face_kg) == (solid.face_m2, solid.face_kg)

    @of_any_piece
    def test_a_knock_out_takes_its_area_from_the_face(self, piece, more):
        opening = KnockOut("rectangle", 0.1 * more, 0.1)
        cut = replace(piece, knock_outs=(*piece.knock_outs, opening))
        whole, holed = take_off(piece, MIX), take_off(cut, MIX)
        assert whole.face_m2 - holed.face_m2 == pytest.approx(0.01 * more)
        gone = 0.01 * more * piece.thickness * 1000
        assert whole.volume_l - holed.volume_l == pytest.approx(gone)

    @of_any_piece
    def test_each_leg_then_each_basin_is_a_zone_then_the_rest(self, piece, more):
        took = take_off(replace(piece, inserts=round(more * 10)), MIX)
        names = [*(g.name for g in piece.legs), *(b.name for b in piece.basins)]
        assert [zone.name for zone in took.zones[:-1]] == names
        assert took.inserts == round(more * 10)


class TestZones:
    def test_a_plain_slab_is_one_zone_of_that_name(self):
        assert [zone.name for zone in take_off(SLAB, MIX).zones] == ["slab"]

    def test_a_tray_is_one_zone_called_top(self):
        tray = replace(SLAB, aprons=(Apron("front", 0.05),))
        assert [zone.name for zone in take_off(tray, MIX).zones] == ["top"]

    def test_a_wall_edge_is_not_sprayed(self):
        walled = replace(SLAB, wall_edges=("back",))
        gone = take_off(SLAB, MIX).face_m2 - take_off(walled, MIX).face_m2
        assert gone == pytest.approx(1.5 * 0.025)
        assert take_off(walled, MIX).volume_l == take_off(SLAB, MIX).volume_l

    @pytest.mark.parametrize(
        ("depth", "upright"), [(0.03, 0.0), (0.04, 0.0), (0.041, 1.5 * 0.041)]
    )
    def test_aprons_deeper_than_40_mm_are_upright(self, depth, upright):
        tray = replace(SLAB, aprons=(Apron("front", depth),))
        assert take_off(tray, MIX).upright_m2 == pytest.approx(upright)

    def test_a_deep_plain_edge_is_upright_too(self):
        thick = replace(SLAB, thickness=0.06, wall_edges=("back", "left", "right"))
        assert take_off(thick, MIX).upright_m2 == pytest.approx(1.5 * 0.06)

    def test_a_leg_takes_the_corner_uprights_it_forms(self):
        piece = replace(SLAB, legs=(Leg("leg", "left", 0.7, 0.5, 0.05),))
        leg, top = take_off(piece, MIX).zones
        assert leg.fillet_m == pytest.approx(2 * 0.7)
        assert top.fillet_m == pytest.approx(4.0 + 2 * 0.025)

    def test_an_inner_face_is_more_face_fillet_and_corners(self):
        plain = replace(SLAB, legs=(Leg("leg", "left", 0.7, 0.5, 0.05),))
        inner = replace(plain, legs=(replace(plain.legs[0], inner_face=True),))
        before, after = take_off(plain, MIX), take_off(inner, MIX)
        assert after.face_m2 - before.face_m2 == pytest.approx(0.5 * 0.675)
        assert after.fillet_m - before.fillet_m == pytest.approx(2 * 0.675)
        assert after.corners - before.corners == 2

    def test_a_narrow_leg_leaves_the_rest_of_its_side_to_the_edge(self):
        whole = replace(SLAB, legs=(Leg("leg", "left", 0.7, 0.5, 0.05),))
        narrow = replace(SLAB, legs=(Leg("leg", "left", 0.7, 0.2, 0.05),))
        tops = [take_off(piece, MIX).zones[-1].face_m2 for piece in (whole, narrow)]
        assert tops[1] - tops[0] == pytest.approx(0.3 * 0.025)

    def test_two_legs_that_meet_cover_each_others_edge(self):
        piece = replace(
            SLAB,
            legs=(Leg("a", "left", 0.7, 0.5, 0.05), Leg("b", "back", 0.7, 1.5, 0.05)),
        )
        a, b, _ = take_off(piece, MIX).zones
        assert a.face_m2 == pytest.approx(0.5 * 0.7 + 0.05 * (0.7 - 0.025))
        assert b.face_m2 == pytest.approx(1.5 * 0.7 + 0.05 * (0.7 - 0.025))

    def test_slots_count_with_the_basins(self):
        piece = replace(SLAB, knock_outs=(KnockOut("slot", 0.3, 0.02, 2),))
        took = take_off(piece, MIX)
        assert (took.simple_knock_outs, took.basin_knock_outs) == (0, 2)


class TestBare:
    def test_its_zones_are_the_quantities(self):
        bare = Bare(
            (BareZone("wall", 2.0, upright=True), BareZone("floor", 3.0)),
            thickness=0.02,
        )
        took = take_off(bare, MIX)
        assert [zone.name for zone in took.zones] == ["wall", "floor"]
        assert (took.face_m2, took.upright_m2, took.flat_m2) == (5.0, 2.0, 3.0)
        assert (took.plan_m2, took.base_m2) == (3.0, 5.0)
        assert took.volume_l == pytest.approx(100.0)
        assert (took.edge_m, took.fillet_m, took.corners, took.strips) == (0, 0, 0, 0)


class TestRefusals:
    @pytest.mark.parametrize(
        ("piece", "words"),
        [
            (replace(SLAB, face_coat=0.03), "the whole, of the piece"),
            (replace(SLAB, face_coat=0.0), "the face coat must be some"),
            (replace(SLAB, face_coat=float("nan")), "the face coat must be some"),
            (replace(SLAB, aprons=(Apron("front", 0.02),)), r"aprons\[0\]"),
            (
                replace(SLAB, knock_outs=(KnockOut("rectangle", 1.5, 0.6),)),
                "piece: top",
            ),
            (replace(SLAB, length=float("nan")), "leave some concrete"),
            (replace(SLAB, length=float("inf")), "some, but not the whole"),
            (replace(SLAB, foam=Foam(1.0, 0.3, 0.025)), "must lie within 1500 x 500"),
            (
                replace(SLAB, legs=(Leg("leg", "left", 0.7, 0.6, 0.05),)),
                "legs under the left must fit its 500 mm",
            ),
            (
                replace(
                    SLAB,
                    legs=(Leg("leg", "left", 0.7, 0.5, 0.05, Foam(0.4, 0.7, 0.02)),),
                ),
                r"legs\[0\]\.foam: 400 x 700 x 20 mm",
            ),
            (replace(SLAB, legs=(Leg("leg", "left", 0.02, 0.5, 0.05),)), r"legs\[0\]"),
        ],
    )
    def test_a_piece_that_cannot_be_cast(self, piece, words):
        with pytest.raises(BadInput, match=words):
            take_off(piece, MIX)

    def test_all_faults_are_told_at_once(self):
        piece = replace(
            SLAB,
            foam=Foam(2.0, 0.3, 0.01),
            aprons=(Apron("front", 0.01), Apron("back", 0.02)),
        )
        with pytest.raises(BadInput) as caught:
            take_off(piece, MIX)
        assert [fault.key for fault in caught.value.faults] == [
            "aprons[0]",
            "aprons[1]",
            "foam",
        ]

    def test_a_bare_pour_thinner_than_its_face(self):
        with pytest.raises(BadInput, match="face_coat"):
            take_off(Bare(thickness=0.003), MIX)
