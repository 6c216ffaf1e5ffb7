"""Match as a whole: places, answers as a preview predicts them, reach, corrections."""

from __future__ import annotations

import dataclasses
import itertools
import re

import numpy as np
import pytest

from layersim import colour, views
from layersim.decide.answer import Weights
from layersim.decide.correction import correct, reflectance_like
from layersim.decide.eye import DISTURBS
from layersim.decide.match import coat_of, find_place, match
from layersim.decide.reach import _clouds, ideal_paints, reach_of
from layersim.decide.recipes import Limits, Recipe, levels, pots, ratios
from layersim.errors import LayersimError, UnknownNameError
from layersim.scheme.records import Coat, GreysGiven, Mix, Targets, Where
from layersim.scheme.simulate import simulate
from layersim.views.match import remedy_words, why_words
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST, SOOT

PAINTS = (CHALK, MOSS, PLUM, RUST)
SMALL = Limits(paints_at_most=2, drops=5, coats=(1, 2, 3))


def planned(scheme, coat="base", area="cloth", tones=5):
    place = find_place(scheme, area=area, coat=coat, after=None)
    alone = dataclasses.replace(scheme, areas=(place.area,))
    return simulate(alone, tones=tones, draws=0).areas[0]


def test_what_is_planned_is_found_again(rig):
    # A recipe within the limits, its own film: the search must come back to it.
    area = rig.areas[0]
    mix = dataclasses.replace(area.coats[0].mix, thinning=1.0)
    base = dataclasses.replace(
        area.coats[0], mix=mix, coats=2, dry_film_um=mix.wet_film_um * mix.volume_solids, film_from="own"
    )
    scheme = dataclasses.replace(
        rig, areas=(dataclasses.replace(area, coats=(base, *area.coats[1:])), *rig.areas[1:])
    )
    wanted = planned(scheme).reflectance[-1]
    found = match(scheme, area="cloth", coat="base", paints=PAINTS, wanted=wanted, limits=SMALL, tones=5)
    best = min(found.answers, key=lambda a: a.closeness)
    assert best.closeness < 1e-9
    assert {p.name: d for p, d in best.coat.mix.ingredients} == {"moss green": 4.0, "plum ink": 1.0}
    assert best.coat.coats == 2
    assert max(best.lights.values()) < 1e-6


def test_answers_are_what_a_preview_predicts(rig):
    targets = Targets(shadow=np.array([12.0, 2, 2]), light=np.array([45.0, 10, 12]))
    found = match(rig, area="cloth", coat="base", paints=PAINTS, targets=targets, limits=SMALL, tones=5)
    for answer in found.answers:
        again = simulate(dataclasses.replace(rig, areas=(answer.area,)), tones=5, draws=0).areas[0]
        np.testing.assert_allclose(again.lab, answer.prediction.lab)
        miss = colour.delta_e_2000(again.lab[-1], found.targets.lab)
        np.testing.assert_allclose(miss, answer.delta_e)


def test_even_films_are_searched_as_they_are_previewed(rig):
    area = rig.areas[0]
    coats = tuple(dataclasses.replace(coat, spread=0.0) for coat in area.coats)
    preshade = dataclasses.replace(area.preshade, spread=0.0, spot_um=0.0)
    scheme = dataclasses.replace(rig, areas=(dataclasses.replace(area, coats=coats, preshade=preshade),))
    found = match(scheme, area="cloth", coat="base", paints=PAINTS, limits=SMALL, tones=5)
    for answer in found.answers:
        assert answer.closeness == pytest.approx(answer.found_closeness, abs=1e-6)


@pytest.mark.parametrize(
    "place", [{"coat": "light"}, {"after": "base"}, {"after": "preshade"}, {"coat": "chips"}]
)
def test_every_place_is_searched_as_previewed(rig, place):
    area = rig.areas[0]
    coats = tuple(dataclasses.replace(coat, spread=0.0) for coat in area.coats)
    preshade = dataclasses.replace(area.preshade, spread=0.0, spot_um=0.0)
    scheme = dataclasses.replace(rig, areas=(dataclasses.replace(area, coats=coats, preshade=preshade),))
    limits = dataclasses.replace(SMALL, paints_at_most=1)
    found = match(scheme, area="cloth", paints=PAINTS, limits=limits, tones=5, **place)
    for answer in found.answers:
        # A new coat has the usual spread; replace it by none to compare.
        even = tuple(dataclasses.replace(coat, spread=0.0) for coat in answer.area.coats)
        lab = (
            simulate(
                dataclasses.replace(scheme, areas=(dataclasses.replace(answer.area, coats=even),)),
                tones=5,
                draws=0,
            )
            .areas[0]
            .lab[-1]
        )
        miss = colour.delta_e_2000(lab, found.targets.lab)[found.targets.counted]
        assert 0.5 * (miss.mean() + miss.max()) == pytest.approx(answer.found_closeness, abs=1e-6)


def test_a_list_of_different_answers(rig):
    found = match(rig, area="cloth", coat="base", paints=PAINTS, limits=SMALL, tones=5)
    merits = [answer.merit(Weights()) for answer in found.answers]
    assert merits == sorted(merits)
    assert {len(answer.coat.mix.ingredients) for answer in found.answers} == {1, 2}
    assert len({answer.paints for answer in found.answers}) == len(found.answers)


def test_the_closest_of_all_is_shown_as_films_are_sprayed(rig):
    """Every recipe there is, predicted as a preview does; uneven films turn the order of some round."""
    place = find_place(rig, area="cloth", coat="base", after=None)
    shelf, labs = pots(PAINTS, SMALL), []
    for count in (1, 2):
        for paints in itertools.combinations(range(len(PAINTS)), count):
            for drops, level in itertools.product(ratios(paints=count, drops=5).tolist(), levels(SMALL)):
                recipe = Recipe(paints, tuple(drops), level.thinning, level.coats)
                coat = coat_of(recipe, shelf, SMALL, place.replaced, film_factor=1.0)
                coats = (coat, *place.later)
                area = dataclasses.replace(place.area, coats=coats)
                alone = dataclasses.replace(rig, areas=(area,))
                labs.append(simulate(alone, tones=5, draws=0).areas[0].lab[-1])
    draw = np.random.default_rng(1)
    for start in draw.choice(len(labs), 12):
        lab = labs[start] + draw.normal(0.0, 2.5, (5, 3))
        targets = Targets(shadow=lab[0], mid=lab[2], light=lab[4])
        found = match(rig, area="cloth", coat="base", paints=PAINTS, targets=targets, limits=SMALL, tones=5)
        miss = colour.delta_e_2000(np.array(labs), found.targets.lab)
        least = (0.5 * (miss.mean(axis=-1) + miss.max(axis=-1))).min()
        assert min(a.closeness for a in found.answers) == pytest.approx(least, abs=1e-9)


def test_paint_goes_before_wash_that_is_no_closer(rig):
    """As a base, a coat of wash that nobody could tell from one of paint; as a filter, neither is better."""
    wash = dataclasses.replace(RUST, name="rust wash", kind="wash", wet_film_um=RUST.wet_film_um * 0.98)
    wanted = planned(rig).lab[-1]
    targets = Targets(shadow=wanted[0], mid=wanted[2], light=wanted[4])
    limits = dataclasses.replace(SMALL, paints_at_most=1)
    ask = {"area": "cloth", "paints": (RUST, wash), "targets": targets, "limits": limits, "tones": 5}
    first, second = match(rig, coat="base", **ask).answers
    assert (first.thin, second.thin) == (0.0, 1.0)
    assert abs(first.closeness - second.closeness) < 0.2
    filters = match(rig, coat=next(c.name for c in rig.areas[0].coats if c.is_filter), **ask).answers
    assert {answer.thin for answer in filters} == {0.0}


def test_at_least_half_keep_the_preshade_that_stands(rig):
    """Also where every closer answer asks for another."""
    area = rig.areas[0]
    lighter = dataclasses.replace(area.preshade, passes=3 * area.preshade.passes)
    darker = dataclasses.replace(area.preshade, passes=2)
    other = dataclasses.replace(rig, areas=(dataclasses.replace(area, preshade=lighter), *rig.areas[1:]))
    wanted = planned(other).lab[-1] + np.array([8.0, 0.0, 0.0])
    targets = Targets(shadow=wanted[0], mid=wanted[2], light=wanted[4])
    for most in (1, 2, 3, 6):
        found = match(
            rig, area="cloth", coat="base", paints=PAINTS, targets=targets, limits=SMALL, tones=5,
            preshades=[lighter, darker], most=most,
        )  # fmt: skip
        assert len(found.answers) <= most
        changed = sum(answer.preshade is not None for answer in found.answers)
        assert most == 1 or 0 < changed <= len(found.answers) / 2


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"most": 0}, "answers"),
        ({"most": 10**9}, "from 1 to 20"),
        ({"keep": 0}, "sets"),
        ({"keep": 10**9}, "from 1 to 200"),
    ],
)
def test_what_is_counted_is_bounded(rig, asked, said):
    with pytest.raises(LayersimError, match=said):
        match(rig, area="cloth", coat="base", paints=PAINTS, limits=SMALL, tones=5, **asked)


def test_filters_and_preshades_are_tried(rig):
    targets = Targets(mid=np.array([30.0, 10, -15]))
    limits = dataclasses.replace(SMALL, paints_at_most=1)
    strap = {
        "area": "strap",
        "coat": "rust",
        "paints": PAINTS,
        "targets": targets,
        "limits": limits,
        "tones": 3,
    }
    plain = match(rig, **strap)
    more = match(rig, **strap, filters=[(PLUM, 1)], preshades=[GreysGiven(10, 95, 1.0)])
    assert len(more.openings) == 4
    assert more.findings.best[1][0].closeness <= plain.findings.best[1][0].closeness
    changed = [a for a in more.answers if a.changes_more]
    assert changed
    assert any("plum ink" in a.paints or a.preshade for a in changed)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"area": "clothes", "coat": "base"}, 'no "clothes" among the areas. Did you mean "cloth"?'),
        ({"area": "cloth", "coat": "bass"}, 'no "bass" among the coats of cloth. Did you mean "base"?'),
        ({"area": "cloth"}, "expected either a coat to replace"),
        ({"area": "cloth", "coat": "base", "after": "base"}, "expected either a coat to replace"),
        ({"area": "cloth", "coat": "base", "paints": ()}, "empty"),
        ({"area": "strap", "coat": "rust"}, "no target"),
    ],
)
def test_what_cannot_be_asked_is_told(rig, asked, says):
    with pytest.raises(LayersimError) as told:
        match(rig, **({"paints": PAINTS, "limits": SMALL, "tones": 3} | asked))
    assert says in str(told.value)


def test_an_unknown_area_is_an_unknown_name(rig):
    with pytest.raises(UnknownNameError):
        find_place(rig, area="nothing", coat="base", after=None)


@pytest.mark.parametrize(
    ("lab", "why"),
    [
        ([88.0, 0.0, 5.0], "lighter than these paints reach over this preshade"),
        ([40.0, -5.0, -45.0], "this hue is missing|no paint or mix|more chroma"),
        ([0.5, 0.0, 0.0], "darker than these paints reach"),
    ],
)
def test_out_of_reach_is_explained(rig, lab, why):
    dark = GreysGiven(5.0, 35.0, 1.0)
    area = dataclasses.replace(rig.areas[1], preshade=dark)
    scheme = dataclasses.replace(rig, areas=(area,))
    found = match(
        scheme, area="strap", coat="rust", paints=(MOSS, RUST, PLUM), targets=Targets(light=np.array(lab)),
        limits=SMALL, tones=3,
    )  # fmt: skip
    reach = reach_of(found)
    assert not reach.reached
    assert reach.misses[0].place == "light"
    assert pytest.approx(reach.misses[0].delta_e) == min(found.answers, key=lambda a: a.closeness).worst
    assert re.search(why, why_words(reach.misses[0]))
    for remedy in reach.remedies:
        assert remedy.closeness < reach.now


def test_a_colour_that_only_fluorescent_paints_have_is_told(rig):
    # A green of C* 92 at L* 75 is within what a surface could reflect at all, but of no ordinary pigment; a
    # blue of C* 40 at L* 40 is (common practice, no source).
    asked = {"area": "strap", "coat": "rust", "paints": (MOSS, RUST, CHALK), "limits": SMALL, "tones": 3}
    for lab, kind in (([75.0, -60.0, 70.0], True), ([40.0, 0.0, -40.0], False)):
        miss = reach_of(match(rig, targets=Targets(light=np.array(lab)), **asked)).misses[0]
        assert (miss.why.kind == "neon") is kind


def test_a_neon_too_light_for_this_pre_shade_is_told_as_one(rig):
    dark = dataclasses.replace(rig.areas[1], preshade=GreysGiven(5.0, 35.0, 1.0))
    asked = {"area": "strap", "coat": "rust", "paints": (MOSS, RUST, CHALK), "limits": SMALL, "tones": 3}
    targets = Targets(light=np.array([85.0, -60.0, 75.0]))
    miss = reach_of(match(dataclasses.replace(rig, areas=(dark,)), targets=targets, **asked)).misses[0]
    assert "no ordinary paint" in why_words(miss)


def test_a_grey_is_mixed_of_black_and_white_first(rig):
    grey = np.full(31, 0.02)
    black = dataclasses.replace(CHALK, name="black", K_per_um=np.full(31, 1.0), S_per_um=grey)
    asked = {"area": "strap", "coat": "rust", "paints": (CHALK, black, MOSS, PLUM), "tones": 3}
    found = match(rig, targets=Targets(mid=np.array([40.0, 0.0, 0.0])), limits=SMALL, **asked)
    first = found.answers[0]
    assert first.strays == 0
    assert first.paints <= {"chalk white", "black"}
    # A coloured target is not held to them.
    found = match(rig, targets=Targets(mid=np.array([40.0, 10.0, 10.0])), limits=SMALL, **asked)
    assert all(answer.strays == 0 for answer in found.answers)
    assert not all(answer.paints <= {"chalk white", "black"} for answer in found.answers)


def test_two_placed_coats_serve_what_one_cannot(rig):
    # Green in the shadow and rust in the light; the two promised do what a preview shows of them.
    strap = rig.areas[1]
    green, rust = (
        Coat(p.name, Mix(((p, 1.0),)), coats=6, dry_film_um=p.dry_film_um, spread=0.0) for p in (MOSS, RUST)
    )
    both = (green, dataclasses.replace(rust, where=Where(lightest_from=55.0, edge=10.0)))
    both = dataclasses.replace(rig, areas=(dataclasses.replace(strap, coats=both),))
    lab = simulate(both, tones=5, draws=0).areas[0].lab[-1]
    found = match(
        rig, area="strap", coat="rust", paints=(MOSS, RUST, CHALK), limits=SMALL, tones=5,
        targets=Targets(shadow=lab[0], mid=lab[2], light=lab[4]),
    )  # fmt: skip
    [remedy] = [one for one in reach_of(found).remedies if one.kind == "two"]
    assert remedy.closeness < min(a.closeness for a in found.answers) - 0.4
    area = dataclasses.replace(found.place.area, coats=(*remedy.two, *found.place.later))
    laid = simulate(dataclasses.replace(rig, areas=(area,)), tones=5, draws=0, sites=1).areas[0]
    miss = colour.delta_e_2000(laid.lab[-1], found.targets.lab)
    assert 0.5 * (miss.mean() + miss.max()) == pytest.approx(remedy.closeness, abs=0.4)


def test_a_blue_that_is_missing_is_to_be_bought(rig):
    found = match(
        rig, area="strap", coat="rust", paints=(MOSS, RUST, CHALK), limits=SMALL, tones=3,
        targets=Targets(light=np.array([40.0, 0.0, -40.0])),
    )  # fmt: skip
    reach = reach_of(found)
    assert any(
        "blue" in remedy_words(remedy) or "violet" in remedy_words(remedy) for remedy in reach.remedies
    )


def test_what_can_be_reached_is_said_to_be(rig):
    wanted = planned(rig, coat="rust", area="strap", tones=3).lab[-1]
    found = match(
        rig, area="strap", coat="rust", paints=PAINTS, limits=dataclasses.replace(SMALL, thinnings=(0.0,)),
        targets=Targets(shadow=wanted[0], light=wanted[2]), tones=3,
    )  # fmt: skip
    assert reach_of(found).reached


def test_a_recipe_that_exists_is_not_out_of_reach_of_a_target_in_doubt(rig):
    # What the shelf gives, read off a screen: each of L*, a* and b* off by 3, nine times in ten.
    draw = np.random.default_rng(5)
    said, worst = 0, 0.0
    for _ in range(12):
        drops = draw.permutation([3, 1, 0, 0])
        mix = Mix(tuple((p, float(d)) for p, d in zip(PAINTS, drops, strict=True) if d), thinning=1.0)
        coat = dataclasses.replace(
            rig.areas[0].coats[0], mix=mix, coats=2, dry_film_um=mix.wet_film_um * mix.volume_solids
        )
        area = dataclasses.replace(rig.areas[0], coats=(coat, *rig.areas[0].coats[1:]))
        lab = simulate(dataclasses.replace(rig, areas=(area,)), tones=5, draws=0).areas[0].lab[-1, 2]
        off = 3.0 / 1.645 * draw.standard_normal(3)
        targets = Targets(mid=lab + off, doubts={"mid": 3.0})
        found = match(rig, area="cloth", coat="base", paints=PAINTS, targets=targets, limits=SMALL, tones=5)
        reach = reach_of(found)
        said += not reach.reached
        worst = max(worst, reach.in_doubt)
    assert said <= 1
    # Some of them are farther away than would pass, were the target sure.
    assert worst > DISTURBS


def varnished(rig, sheen):
    """The strap with a varnish of some sheen over it, and none for None."""
    area = rig.areas[1]
    varnish = Coat("last", Mix(((GLOSS, 1.0),)), coats=1, dry_film_um=30.0, spread=0.0, sheen=sheen)
    coats = area.coats if sheen is None else (*area.coats, varnish)
    return dataclasses.replace(rig, areas=(dataclasses.replace(area, coats=coats),))


def finished_lightness(scheme, paint, coats):
    """Lightness of the shadow, with nothing but a paint of its own film under the varnish."""
    area = scheme.areas[0]
    film = paint.wet_film_um * paint.volume_solids / 2.0
    coat = Coat("rust", Mix(((paint, 1.0),), 1.0), coats=coats, dry_film_um=film, spread=0.0)
    alone = dataclasses.replace(scheme, areas=(dataclasses.replace(area, coats=(coat, *area.coats[1:])),))
    return float(simulate(alone, tones=3, draws=0).areas[0].lab[-1, 0, 0])


BLACK = dataclasses.replace(SOOT, name="soot black", kind="paint")
DARK = {"area": "strap", "coat": "rust", "paints": (BLACK, RUST), "limits": SMALL, "tones": 3}


@pytest.mark.parametrize(("sheen", "offered"), [(1.0, ("satin", "gloss")), (0.4, ("gloss",)), (0.05, ())])
def test_a_finish_that_keeps_shadows_light_is_told(rig, sheen, offered):
    # Equation (S3): of the surface's 4 % the sheen is what reaches the eye, the more so in the dark.
    scheme = varnished(rig, sheen)
    found = match(scheme, targets=Targets(shadow=np.array([0.5, 0.0, 0.0])), **DARK)
    reach = reach_of(found)
    [miss] = reach.misses
    assert "darker than these paints reach" in why_words(miss)
    for name in ("satin", "gloss"):
        promised = re.search(rf"L\* (\d+) with a {name}", why_words(miss))
        assert bool(promised) == (name in offered)
        if promised:
            # It is what a preview of the scheme with that varnish shows.
            shown = finished_lightness(varnished(rig, {"satin": 0.4, "gloss": 0.05}[name]), BLACK, coats=3)
            assert float(promised[1]) == pytest.approx(shown, abs=0.51)
    remedies = {remedy_words(remedy) for remedy in reach.remedies}
    assert ('a gloss finish instead of "last"' in remedies) == bool(offered)


def test_without_a_varnish_one_over_it_is_offered(rig):
    found = match(varnished(rig, None), targets=Targets(shadow=np.array([4.0, 0.0, 0.0])), **DARK)
    reach = reach_of(found)
    assert "L* 20 with a satin finish" not in why_words(reach.misses[0])
    promised = re.search(r"L\* (\d+) with a gloss finish", why_words(reach.misses[0]))
    shown = finished_lightness(varnished(rig, 0.05), BLACK, coats=3)
    assert float(promised[1]) == pytest.approx(shown, abs=0.51)
    assert "a gloss varnish over it all" in {remedy_words(remedy) for remedy in reach.remedies}


def test_whether_the_finish_is_to_blame_is_told(rig):
    scheme = varnished(rig, 1.0)
    glossy = finished_lightness(varnished(rig, 0.05), BLACK, coats=3)
    for L, blamed in ((glossy, True), (glossy - 3.0, False)):
        found = match(scheme, targets=Targets(shadow=np.array([L, 0.0, 0.0])), **DARK)
        why = why_words(reach_of(found).misses[0])
        assert ("haze of the finish is what keeps it so light" in why) is blamed
        assert ("a glossier finish is darker" in why) is not blamed


@pytest.fixture
def looked_at(monkeypatch):
    """The openings for which all that the shelf can do was worked out, as it happens."""
    seen = []

    def cloud(shelf, limits, opening, tone):
        seen.append((opening, tone))
        return _clouds(shelf, limits, opening, tone)

    monkeypatch.setattr("layersim.decide.reach._clouds", cloud)
    return seen


def test_a_light_target_has_nothing_to_do_with_the_finish(rig, looked_at):
    found = match(varnished(rig, 1.0), targets=Targets(light=np.array([95.0, 0.0, 5.0])), **DARK)
    assert "finish" not in why_words(reach_of(found).misses[0])
    assert len(looked_at) == 1


def test_each_finish_is_worked_out_once_for_each_dark_tone(rig, looked_at):
    black = np.array([0.5, 0.0, 0.0])
    found = match(varnished(rig, 1.0), targets=Targets(shadow=black, mid=black, light=black), **DARK)
    whys = [why_words(miss) for miss in reach_of(found).misses]
    assert len(whys) == 3
    assert all("with a satin finish" in why for why in whys)
    # The place as it is, and each glossier finish.
    assert len(looked_at) == len({(id(opening), *tones) for opening, tones in looked_at}) == 1 + 2 * 3


def glazed(rig, glaze, **others):
    """The strap with a thick film of a paint over it, which is named "glaze"."""
    area = rig.areas[1]
    coat = Coat("glaze", Mix(((glaze, 1.0),)), coats=1, dry_film_um=3.0, spread=0.0, **others)
    return dataclasses.replace(rig, areas=(dataclasses.replace(area, coats=(*area.coats, coat)),))


@pytest.mark.parametrize("is_filter", [True, False])
def test_a_coat_above_that_keeps_a_target_away_is_told(rig, is_filter):
    # The green of a coat of moss green itself, asked for under plum.
    bare = planned(rig, coat="rust", area="strap", tones=3)
    asked = {"area": "strap", "coat": "rust", "paints": PAINTS, "limits": SMALL, "tones": 3}
    targets = Targets(light=bare.lab[-1, -1])
    found = match(glazed(rig, PLUM, is_filter=is_filter), targets=targets, **asked)
    reach = reach_of(found)
    [miss] = reach.misses
    told = re.match(
        r'"glaze" above keeps it away: without it this tone comes within ΔE00 (\d+\.\d)', why_words(miss)
    )
    assert float(told[1]) < 0.5 * miss.delta_e
    [remedy] = [remedy for remedy in reach.remedies if remedy_words(remedy) == 'without "glaze"']
    # It is what the search gives on the scheme without that coat.
    limits = dataclasses.replace(SMALL, least_drops=1)
    alone = match(rig, targets=targets, **(asked | {"limits": limits}))
    assert remedy.closeness == pytest.approx(
        min(f.closeness for fs in alone.findings.best.values() for f in fs)
    )
    assert len(reach.remedies) <= 4


def test_a_coat_above_is_not_blamed_for_what_it_does_not_do(rig):
    asked = {"area": "strap", "coat": "rust", "paints": PAINTS, "limits": SMALL, "tones": 3}
    # Out of reach without it as with it; of no weight; a varnish; on other tones.
    blue = Targets(light=np.array([40.0, 0.0, -60.0]))
    white = Targets(light=np.array([97.0, 0.0, 2.0]))
    nowhere = Where(darkest_up_to=1.0, edge=0.0)
    for scheme, targets in (
        (glazed(rig, dataclasses.replace(GLOSS, kind="ink", sheen=1.0)), blue),
        (glazed(rig, dataclasses.replace(PLUM, kind="varnish")), white),
        (glazed(rig, PLUM, where=nowhere), white),
    ):
        reach = reach_of(match(scheme, targets=targets, **asked))
        assert not reach.reached
        assert not any("glaze" in why_words(miss) for miss in reach.misses)
        assert not any("glaze" in remedy_words(remedy) for remedy in reach.remedies)


def test_remedies_stay_within_the_drops_allowed(rig):
    # Fewest drops of one paint above those that remedies are tried with.
    limits = dataclasses.replace(SMALL, drops=14, least_drops=7)
    found = match(rig, targets=Targets(shadow=np.array([4.0, 0, 0])), **(DARK | {"limits": limits}))
    assert not reach_of(found).reached


def test_reach_looks_at_no_mix_that_cannot_be(rig):
    # Half chalk and half soot would be the grey asked for; by themselves neither is near.
    grey = Targets(light=np.array([45.0, 0.0, 0.0]))
    asked = DARK | {"limits": dataclasses.replace(SMALL, coats=(12,))}
    water, oil = (dataclasses.replace(p, carrier=c) for p, c in ((CHALK, "water"), (BLACK, "oil")))
    asked["paints"] = (water, oil)
    found = match(rig, targets=grey, **asked)
    assert set(found.findings.best) == {1}
    reach = reach_of(found)
    [miss] = reach.misses
    assert "comes closer" in why_words(miss)
    assert float(re.search(r"ΔE00 (\d+\.\d)", why_words(miss))[1]) > 10.0
    for remedy in reach.remedies:
        if "mixed with soot black" in remedy_words(remedy):
            assert remedy_words(remedy).endswith("(so carried by oil, too)")


def test_a_correction_mixes_nothing_that_cannot_be(rig):
    paints = [
        dataclasses.replace(p, carrier=c) for p, c in ((CHALK, "water"), (BLACK, "oil"), (RUST, "water"))
    ]
    came = {"mid": np.array([60.0, 0.0, 0.0])}
    found = correct(rig, area="strap", found=came, paints=paints, tones=3)
    shown = [found.smallest, *found.others]
    for one in shown:
        assert len({paint.carrier for paint, _ in one.coat.mix.ingredients}) == 1
    assert "by oil (soot black)" in str(found)


def test_ideal_paints_are_paints():
    names = [paint.name for paint in ideal_paints()]
    assert len(set(names)) == len(names)


def test_a_film_too_thin_is_corrected(rig):
    """What came out had a coat too few of the finish: the smallest correction brings it back."""
    area = rig.areas[1]
    wanted = planned(rig, coat="rust", area="strap", tones=3).lab[-1]
    thin = dataclasses.replace(area.coats[0], dry_film_um=area.coats[0].dry_film_um * 0.4)
    came = (
        simulate(
            dataclasses.replace(rig, areas=(dataclasses.replace(area, coats=(thin,)),)), tones=3, draws=0
        )
        .areas[0]
        .lab[-1]
    )
    found = correct(
        rig, area="strap", paints=PAINTS, tones=3,
        found={"shadow": came[0], "mid": came[1], "light": came[2]},
    )  # fmt: skip
    assert found.from_prediction
    # Its page is drawn under the light that its colours stand for.
    other = dataclasses.replace(found, scheme=dataclasses.replace(rig, viewing=colour.Viewing("A")))
    assert (views.of(found).viewing, views.of(other).viewing.light) == (rig.viewing, "A")
    np.testing.assert_allclose(found.found, came, atol=0.05)
    np.testing.assert_allclose(found.targets.lab, wanted, atol=1e-9)
    assert found.smallest is not None
    assert found.smallest.closeness < 0.5 * found.closeness
    assert {p.name for p, _ in found.smallest.coat.mix.ingredients} & {"rust"}
    for other in found.others:
        assert other.coat.mix != found.smallest.coat.mix


@pytest.mark.parametrize(("kind", "change"), [("fewer", -1), ("more", 1)])
def test_a_coat_forgotten_or_doubled_is_found(rig, kind, change):
    cloth = rig.areas[0]
    step = next(i for i, coat in enumerate(cloth.coats) if coat.coats > 1 and coat.where.everywhere)
    coats = list(cloth.coats)
    coats[step] = dataclasses.replace(coats[step], coats=coats[step].coats + change)
    other = dataclasses.replace(rig, areas=(dataclasses.replace(cloth, coats=tuple(coats)),))
    lab = simulate(other, tones=3, draws=0).areas[0].lab[-1]
    hand = dataclasses.replace(rig.hand, film=0.03)
    found = correct(
        dataclasses.replace(rig, hand=hand), area="cloth", paints=PAINTS, tones=3,
        found={"shadow": lab[0], "mid": lab[1], "light": lab[2]},
    )  # fmt: skip
    # Films that nobody measured may explain it as well, but no other slip does.
    first = next(one for one in found.explanations if one.kind != "planned")
    assert sum(one.odds for one in found.explanations) == pytest.approx(1.0)
    assert (first.kind, first.step) == (kind, cloth.coats[step].name)


def test_a_correction_takes_no_tone_farther_away(rig):
    draw = np.random.default_rng(3)
    lab = planned(rig, coat="rust", area="strap", tones=3).lab[-1]
    for _ in range(4):
        came = lab + draw.normal(0.0, 3.0, (3, 3))
        found = correct(
            rig, area="strap", paints=PAINTS, tones=3,
            found={"shadow": came[0], "mid": came[1], "light": came[2]},
        )  # fmt: skip
        for one in (found.smallest, *found.others):
            if one is not None:
                assert (one.delta_e <= np.maximum(found.delta_e, 0.8)).all()


def test_what_is_right_is_left_alone(rig):
    wanted = planned(rig, coat="rust", area="strap", tones=3).lab[-1]
    found = correct(rig, area="strap", found={"mid": wanted[1]}, paints=PAINTS, tones=3)
    assert found.smallest is None


def test_a_measured_spectrum_is_used_as_it_is(rig):
    seen = planned(rig, coat="rust", area="strap", tones=3).reflectance[-1]
    found = correct(rig, area="strap", found={"light": seen[2]}, paints=PAINTS, tones=3)
    assert found.closeness < 0.01


@pytest.mark.parametrize("found", [{}, {"mid": np.array([20.0, 0.0, 120.0])}])
def test_what_cannot_have_come_out_is_told(rig, found):
    with pytest.raises(LayersimError, match="what came out"):
        correct(rig, area="strap", found=found, paints=PAINTS, tones=3)


def test_spectra_of_given_colours():
    draw = np.random.default_rng(0)
    start = np.clip(0.3 + 0.2 * draw.standard_normal((50, 1)) + 0.1 * np.sin(np.arange(31) / 5.0), 0.02, 0.9)
    view = colour.Viewing()
    lab = colour.lab(start, view) + draw.normal(0, 6, (50, 3))
    lab[:, 0] = lab[:, 0].clip(8, 88)
    got = reflectance_like(start, lab, view)
    assert ((got > 0) & (got <= 1)).all()
    assert np.quantile(colour.delta_e_2000(colour.lab(got, view), lab), 0.9) < 0.01
