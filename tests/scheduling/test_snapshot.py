"""Snapshots of jobs and shops: back from the log exactly, or refused."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.job import (
    OPTIONAL_STEPS,
    SEALERS,
    SIDES,
    Apron,
    Bare,
    BareZone,
    Basin,
    Finish,
    Foam,
    Job,
    KnockOut,
    Leg,
    Pads,
    Piece,
)
from scheduling.shop import (
    WEEKDAYS,
    Bells,
    Hours,
    Mix,
    Person,
    Shop,
    StrengthTest,
    TypicalDay,
)
from scheduling.snapshot import (
    job_from_data,
    job_to_data,
    shop_from_data,
    shop_to_data,
)
from scheduling.spread import Spread
from scheduling.strength import (
    ACI_ROWS,
    CEMENT_CLASSES,
    Aci209,
    Eurocode,
    Exponential,
    Hyperbolic,
)

metres = st.floats(0.001, 10)
names = st.text(min_size=1, max_size=20)
counts = st.integers(0, 50)
knock_outs = st.lists(
    st.builds(
        KnockOut,
        st.sampled_from(["round", "rectangle", "slot"]),
        metres,
        metres,
        counts,
    ),
    max_size=2,
).map(tuple)
foams = st.none() | st.builds(Foam, metres, metres, metres)
sides = st.sampled_from(SIDES)
pieces = st.builds(
    Piece,
    metres,
    metres,
    metres,
    metres,
    foams,
    st.lists(sides, max_size=2).map(tuple),
    st.lists(st.builds(Apron, sides, metres), max_size=2).map(tuple),
    st.lists(
        st.builds(Leg, names, sides, metres, metres, metres, foams, st.booleans()),
        max_size=2,
    ).map(tuple),
    st.lists(
        st.builds(
            Basin, names, metres, metres, metres, metres, metres, metres, knock_outs
        ),
        max_size=2,
    ).map(tuple),
    knock_outs,
    st.lists(st.builds(Pads, counts, metres, metres, metres), max_size=2).map(tuple),
    counts,
)
bares = st.builds(
    Bare,
    st.lists(st.builds(BareZone, names, metres, st.booleans()), max_size=3).map(tuple),
    metres,
    metres,
)
jobs = st.builds(
    Job,
    names,
    names,
    pieces | bares,
    counts,
    names,
    st.none() | st.dates(),
    st.sampled_from(["silicone", "clay"]),
    metres,
    st.sampled_from(["before caulk", "after caulk"]),
    st.builds(
        Finish,
        st.sampled_from(["light", "acid", "hone"]),
        counts,
        counts,
        st.sampled_from(SEALERS),
        counts,
        st.booleans(),
    ),
    st.lists(st.sampled_from(OPTIONAL_STEPS)).map(tuple),
    st.text(max_size=20),
)


laws = (
    st.builds(Hyperbolic, metres, metres, metres)
    | st.builds(Exponential, metres, metres, st.floats(0.1, 5))
    | st.builds(Eurocode, metres, st.sampled_from(CEMENT_CLASSES), st.booleans())
    | st.builds(Aci209, metres, st.sampled_from(list(ACI_ROWS)))
)
days = st.lists(st.sampled_from(WEEKDAYS), max_size=3).map(tuple)
shops = st.builds(
    Shop,
    names,
    names,
    st.sampled_from(["si", "us"]),
    st.sampled_from(["dark", "light"]),
    st.lists(st.builds(Person, names, days), max_size=3).map(tuple),
    st.builds(
        Hours,
        days,
        st.times(),
        st.times(),
        st.lists(st.tuples(st.times(), st.times()), max_size=2).map(tuple),
        st.lists(st.dates(), max_size=2).map(tuple),
        names,
    ),
    metres,
    st.dictionaries(names, counts, max_size=2),
    st.builds(TypicalDay, metres, metres, st.times(), st.times(), metres, metres),
    st.dictionaries(
        names,
        st.builds(
            Mix,
            names,
            metres,
            metres,
            metres,
            st.dictionaries(names, st.builds(Spread, metres, metres), max_size=2),
            laws,
            st.lists(st.builds(StrengthTest, metres, metres, metres), max_size=2).map(
                tuple
            ),
        ),
        max_size=2,
    ),
    st.builds(Bells, st.booleans(), st.booleans(), st.booleans()),
)


class TestSnapshots:
    @settings(max_examples=150, deadline=None)
    @given(shop=shops)
    def test_a_shop_comes_back_exactly(self, shop):
        written = json.dumps(shop_to_data(shop), allow_nan=False)
        assert shop_from_data(json.loads(written)) == shop

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"hours": {"opens": "7:30"}}, 'shop.hours.opens: "7:30" - wants an ISO'),
            ({"hours": {"breaks": [["12:00"]]}}, "breaks[0]: a list - wants 2 items"),
            ({"mixes": []}, "shop.mixes: a list - wants a table"),
            (
                {"mixes": {"M1": {"strength": {"mean_28d": 0.0, "cement": "42.5N"}}}},
                (
                    "shop.mixes.M1.strength: "
                    "strength at 28 d 0.0 MPa: want above 0 to 200 MPa"
                ),
            ),
            ({"equipment": {"gun": "one"}}, 'equipment.gun: "one" - wants int'),
            ({"people": [{"days": []}]}, "shop.people[0].name: missing"),
        ],
    )
    def test_a_damaged_shop_is_refused(self, change, said):
        with pytest.raises(BadInput) as caught:
            shop_from_data(shop_to_data(Shop()) | change)
        assert said in str(caught.value)

    @settings(max_examples=150, deadline=None)
    @given(job=jobs)
    def test_a_job_comes_back_exactly(self, job):
        written = json.dumps(job_to_data(job), allow_nan=False)
        assert job_from_data(json.loads(written)) == job

    def test_a_field_that_is_newer_than_the_data_takes_its_default(self):
        job = Job("a", "A", Piece(1.0, 1.0, 0.02), note="kept")
        data = job_to_data(job)
        del data["release"]
        del data["shape"]["pads"]
        assert job_from_data(data) == job

    def test_a_whole_number_is_a_number(self):
        data = job_to_data(Job("a", "A", Bare(thickness=1.0)))
        data["shape"]["thickness"] = 1
        assert job_from_data(data) == Job("a", "A", Bare(thickness=1.0))

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"fillet": "wax"}, 'job.fillet: "wax" - wants one of silicone, clay'),
            ({"castings": 1.5}, "job.castings: 1.5 - wants int"),
            ({"castings": True}, "job.castings: true - wants int"),
            ({"title": None}, "job.title: None - wants str"),
            ({"due": "soon"}, 'job.due: "soon" - wants an ISO 8601 date'),
            ({"optional": "crate"}, 'job.optional: "crate" - wants a list'),
            ({"fillet_radius": float("nan")}, "wants a finite number"),
            ({"shape": []}, "job.shape: a list - wants a table"),
            ({"shape": {"zones": [{}]}}, "job.shape.zones[0].name: missing"),
            ({"shape": {"length": 1.0}}, "job.shape.width: missing"),
            ({"colour": "bone"}, "job.colour: no such field"),
        ],
    )
    def test_damaged_data_is_refused(self, change, said):
        data = job_to_data(Job("a", "A", Bare())) | change
        with pytest.raises(BadInput) as caught:
            job_from_data(data)
        assert said in str(caught.value)

    def test_a_snapshot_does_not_share_with_the_job(self):
        job = Job("a", "A", Bare())
        job_to_data(job)["finish"]["grits"] = 9
        assert job == replace(job, finish=Finish())
