# SPDX-License-Identifier: MIT
"""Chains of raceways against brute force over every way of turning each raceway round."""

from __future__ import annotations

from itertools import pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from wiretrack.exchange.routes import chains, joins

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
