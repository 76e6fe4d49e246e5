# SPDX-License-Identifier: MIT
"""Routes against brute force over every way of turning each raceway round."""

from __future__ import annotations

from itertools import pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from wiretrack.model.routes import Leg, chains, joins, route_of

RACEWAYS = st.lists(
    st.tuples(st.sampled_from("ABCD"), st.sampled_from("ABCD")).filter(lambda ab: ab[0] != ab[1]),
    min_size=1,
    max_size=6,
)


def every_way(raceways: list[tuple[str, str]]) -> set[tuple[str, ...]]:
    """Return the boxes along every way of turning the raceways that makes them meet."""
    found = set()
    for turns in product((False, True), repeat=len(raceways)):
        turned = [pair[::-1] if turn else pair for pair, turn in zip(raceways, turns, strict=True)]
        if all(before[1] == after[0] for before, after in pairwise(turned)):
            found.add((turned[0][0], *(pair[1] for pair in turned)))
    return found


@given(RACEWAYS)
def test_chains_are_those_of_brute_force(raceways: list[tuple[str, str]]) -> None:
    found = {tuple(chain) for chain in chains(raceways)}
    wanted = every_way(raceways)
    if len(raceways) == 1:
        assert found < wanted
        assert len(found) == 1
    else:
        assert found == wanted


@given(RACEWAYS, st.sampled_from("ABCDE"), st.sampled_from("ABCDE"))
def test_ends_are_joined_if_part_of_some_chain_leads_from_one_to_the_other(
    raceways: list[tuple[str, str]], one: str, other: str
) -> None:
    wanted = any(
        {way[start], way[stop]} == {one, other} and (one != other or way[start] == way[stop])
        for way in every_way(raceways)
        for start in range(len(way))
        for stop in range(start + 1, len(way))
    )
    assert any(joins(chain, one, other) for chain in chains(raceways)) == wanted


def test_no_raceways_make_no_chain() -> None:
    assert chains([]) == []


def piped(raceways: list[tuple[str, str]]) -> list[Leg]:
    return [Leg(f"W{n}", one, other, n + 1.0) for n, (one, other) in enumerate(raceways)]


def longest_part(raceways: list[tuple[str, str]], one: str, other: str) -> int:
    """Return the most raceways that lie between two ends on any way; 0 if none joins them."""
    return max(
        (
            stop - start
            for way in every_way(raceways)
            for start in range(len(way))
            for stop in range(start + 1, len(way))
            if sorted((way[start], way[stop])) == sorted((one, other))
        ),
        default=0,
    )


@given(RACEWAYS, st.sampled_from("ABCDE"), st.sampled_from("ABCDE"))
def test_a_conductor_runs_through_the_longest_part_of_its_pull_between_its_ends(
    raceways: list[tuple[str, str]], one: str, other: str
) -> None:
    route = route_of(piped(raceways), one, other)
    legs, longest = route.legs, longest_part(raceways, one, other)
    assert len(legs) == (longest or len(raceways))
    assert len(set(route.raceways)) == len(legs)
    for leg in legs:
        ends = raceways[int(leg.raceway[1:])]
        assert sorted((leg.from_box, leg.to_box)) == sorted(ends)
    if longest:
        assert (route.boxes[0], route.boxes[-1]) == (one, other)
        assert all(here.to_box == there.from_box for here, there in pairwise(legs))
        assert route.length_m == sum(leg.length_m or 0.0 for leg in legs)


@given(RACEWAYS)
def test_a_path_is_walked_as_its_raceways_meet(raceways: list[tuple[str, str]]) -> None:
    ways, route = every_way(raceways), route_of(piped(raceways))
    assert [leg.raceway for leg in route.legs] == [f"W{n}" for n in range(len(raceways))]
    if ways:
        assert route.boxes in ways
    else:
        joints = pairwise(route.legs)
        assert any(here.to_box != there.from_box for here, there in joints)
    assert route.turned().turned() == route


def test_out_and_back_over_two_parallel_raceways_lies_in_both() -> None:
    path = piped([("MDB", "PH1"), ("PH1", "MDB")])
    assert route_of(path, "MDB", "MDB").boxes == ("MDB", "PH1", "MDB")
    assert route_of(path, "PH1", "PH1").boxes == ("PH1", "MDB", "PH1")
    assert route_of(path, "MDB", "PH1").boxes == ("MDB", "PH1")
    assert route_of(path).boxes == ("MDB", "PH1", "MDB")


def test_of_a_broken_path_no_part_can_be_told() -> None:
    path = piped([("A", "B"), ("D", "C")])
    assert route_of(path, "A", "B").boxes == ("A", "B", "D", "C")
    assert route_of(path, "C", "A").boxes == ("C", "D", "B", "A")
    assert route_of(piped([("B", "A"), ("B", "C"), ("E", "D")]), "A", "D").boxes == tuple("ABCED")
    assert route_of([], "A", "B").boxes == ()


def test_a_length_that_is_not_known_leaves_the_whole_unknown() -> None:
    path = [*piped([("A", "B")]), Leg("W9", "B", "C")]
    assert route_of(path, "A", "C").length_m is None
    assert route_of(path, "A", "B").length_m == 1.0
