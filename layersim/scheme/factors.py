"""Everything about an area that is uncertain: hand, bottles, the sprayer and the film model."""

from __future__ import annotations

from layersim.chance import Factor, Source, Step
from layersim.names import slug
from layersim.paint import Paint
from layersim.scheme import modelerror
from layersim.scheme.ownfilms import own_film, takes_own_film
from layersim.scheme.records import Area, GreysGiven, GreysSprayed, Mix, Scheme
from layersim.sprayer import Sprayer


def factors_of(scheme: Scheme, area: Area) -> list[Factor]:
    """Return what is uncertain about an area; draws depend on their order."""
    return [*_of_hand_and_bottles(scheme, area), *_of_sprayer(scheme, area), *_of_model(scheme, area)]


def told_by_name(area: Area, coat: int) -> tuple[str, int]:
    """Return a coat's name and which of that name it is: what two schemes share, or one and its edit."""
    names = [slug(one.name) for one in area.coats]
    return names[coat], names[:coat].count(names[coat])


def mix_of(area: Area, step: object) -> Mix:
    """Return what a step of an area is sprayed with; the preshade's for anything but a coat."""
    if isinstance(step, int):
        return area.coats[step].mix
    if not isinstance(area.preshade, GreysSprayed):
        raise ValueError("greys that are given are no mix")
    return area.preshade.mix


def _of_hand_and_bottles(scheme: Scheme, area: Area) -> list[Factor]:
    hand = scheme.hand
    factors: dict[Source, Factor] = {}

    def add(key: Source, what: str, advice: str) -> None:
        factors.setdefault(key, Factor(key, what, advice))

    def add_paint(paint: Paint) -> None:
        for i, doubt in enumerate(paint.doubts):
            key = Source("paint", name=paint.name, number=i)
            known_by = "spray a chip of" if paint.flakes else "measure swatches of"
            add(key, f"{paint.name}: {doubt.words}", f"{known_by} {paint.name}")

    def add_mix(mix: Mix, step: Step, name: str) -> None:
        for i, (paint, _) in enumerate(mix.ingredients):
            add_paint(paint)
            if hand.parts and len(mix.ingredients) > 1:
                what = f'parts of {paint.name} in "{name}"'
                add(Source("parts", step, number=i), what, "mix a larger batch, or weigh it")

    add_paint(area.ground)
    if hand.satin:
        finish = _finish_sheen(area)
        factors[Source("satin")] = Factor(
            Source("satin"),
            "how much of the finish's reflection is seen",
            "spray a chip and set its sheen",
            towards=1.0 if finish <= 0.5 else -1.0,
            room=min(finish, 1.0 - finish) / hand.satin,
        )
    if isinstance(area.preshade, GreysGiven) and hand.greys:
        add(Source("greys"), "greys of the preshade", "photograph the preshade beside a grey card")
    if isinstance(area.preshade, GreysSprayed):
        add_mix(area.preshade.mix, "preshade", "preshade")
        if hand.film:
            add(Source("film", "preshade"), "film of the preshade", "spray a test strip and compare")
        if hand.model and area.preshade.spot_um:
            add(
                Source("mist"),
                "how coarse the preshade's mist is",
                "look at it through a loupe: set drops_um",
            )
    for index, coat in enumerate(area.coats):
        add_mix(coat.mix, index, coat.name)
        if hand.film and coat.total_film_um > 0.0:
            add(Source("film", index), f'film of "{coat.name}"', f'spray a test strip of "{coat.name}"')
    return list(factors.values())


def _of_sprayer(scheme: Scheme, area: Area) -> list[Factor]:
    """Return the doubt that all films of the sprayer's own share."""
    sprayer = scheme.batch.sprayer
    if not own_film(sprayer).error or not any(takes_own_film(s) for s in (area.preshade, *area.coats)):
        return []
    if sprayer is None or sprayer.film_factor is None:
        what = "how thick your sprayer lays films"
        return [Factor(own_film_key(sprayer), what, "log measured chips, then: layersim log SCHEME learn")]
    what = f"own film of {sprayer.name}"
    return [Factor(own_film_key(sprayer), what, "log more measured chips of this sprayer")]


def own_film_key(sprayer: Sprayer | None) -> Source:
    """Return the key of what all films of a sprayer share; two sprayers that were measured share nothing."""
    known = sprayer is not None and sprayer.film_factor is not None
    return Source("own film", name=slug(sprayer.name) if sprayer is not None and known else "")


def _of_model(scheme: Scheme, area: Area) -> list[Factor]:
    """Return the film model's own errors: many deviates, and one cause together."""
    if not scheme.hand.model:
        return []
    return [Factor(key, modelerror.CAUSE, modelerror.ADVICE) for key in modelerror.keys(area)]


def _finish_sheen(area: Area) -> float:
    """Return the sheen of what lies on top."""
    over_all = [coat for coat in area.coats if coat.patch is None and coat.total_film_um > 0.0]
    if over_all:
        return over_all[-1].dry_sheen
    preshade = area.preshade
    if preshade is None:
        return area.ground.sheen
    return preshade.sheen if isinstance(preshade, GreysGiven) else preshade.mix.sheen
