# ---
# jupyter:
#   jupytext:
#     formats: py:percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # A new paint from a photograph of its test card
#
# Somebody has no instrument, but a camera, a printed card and a 24-patch chart. The photographs here are
# invented: data/generate/example_card.py renders a teal that nobody made, through a camera's
# sensitivities, under a bulb and once more under an LED, with noise, uneven light and a slight tilt.
# Everything after that is what happens to real ones. This file is a notebook in percent format, to run as
# it is; the .ipynb beside it is the same, with what it prints and draws.

# %%
import numpy as np

from layersim import colour, read_any_swatches
from layersim.fitting.photographed import fit_readings, read_photographed
from layersim.optics import cones
from layersim.resources import data_folder

swatches = read_any_swatches(data_folder() / "examples" / "teal-card.toml")
print(swatches.paint, "- invented:", swatches.invented)
for swatch in swatches.swatches:
    print(f"  {swatch.name:<24} at {swatch.patch}")

# %% [markdown]
# ## What the photographs say
#
# The card is found by its tags, the light made even by the card's own bare paper, the camera
# calibrated by the chart: which tone curve and which matrix is decided by leaving out each patch of
# the chart in turn.

# %%
readings = read_photographed(swatches)
for reading in readings:
    calibration = reading.calibration
    print(f"{reading.path.name}, by a {calibration.reference}: {calibration.tone.kind}")
    print(f"  chart patches left out are missed by ΔE00 {calibration.mean_de00:.1f}")
    for note in reading.notes:
        print(f"  {note}")

# %% [markdown]
# ## From three numbers a lamp to spectra
#
# No patch has a spectrum, only three numbers under each lamp. What fills it in is what paints are like; the
# range says what that leaves open. (`layersim.fit_photograph(swatches)` does both steps at once.)

# %%
fit = fit_readings(swatches, readings)
for name, delta_e in zip(fit.names, fit.delta_e, strict=True):
    print(f"{name:<24} ΔE00 {delta_e:.1f}")
print(fit.verdict.grade, "-", fit.verdict.words)
if fit.suggestion is not None:
    print("one more swatch would help most:", fit.suggestion.words)

# %% [markdown]
# The same as a picture: each swatch as photographed beside what the paint gives there, typical coats with
# their range.

# %%
fit

# %% [markdown]
# K and S at a few wavelengths, with how far they may be off. At the ends of the spectrum the eye, and
# the camera, see little, and little is known.

# %%
spread = np.exp(np.sqrt(np.diag(fit.covariance)))
for nm in (400, 450, 500, 550, 600, 650, 700):
    i = (nm - 400) // 10
    K, S = fit.paint.K_per_um[i], fit.paint.S_per_um[i]
    print(f"{nm} nm   K {K:.3f} (times or over {spread[i]:.2f})   S {S:.3f} ({spread[31 + i]:.2f})")

# %% [markdown]
# ## What will thin coats look like?
#
# Over a dark, a middle and a light tone, with the range that the paint's own doubts make.

# %%
rng = np.random.default_rng(1)
z = rng.standard_normal((200, len(fit.paint.doubts)))
z[0] = 0.0  # the first is the paint as it was fitted
shifts_k = z @ np.stack([doubt.log_K for doubt in fit.paint.doubts])
shifts_s = z @ np.stack([doubt.log_S for doubt in fit.paint.doubts])
film = cones.medium(
    K_per_um=fit.paint.K_per_um * np.exp(shifts_k)[:, np.newaxis],
    S_per_um=fit.paint.S_per_um * np.exp(shifts_s)[:, np.newaxis],
)
tones = np.array([[0.03], [0.18], [0.70]])
coat_um = fit.paint.dry_film_um / 2.0  # thinned one to one
for coats in (1, 2, 4):
    seen = cones.seen(cones.lay(film, thickness_um=coats * coat_um, over=cones.even_ground(tones)), sheen=0.0)
    lab = colour.lab(seen, colour.Viewing())
    reach = np.quantile(colour.delta_e_2000(lab[1:], lab[0]), 0.9, axis=0)
    shown = ", ".join(f"L* {L:.0f} within ΔE00 {r:.1f}" for L, r in zip(lab[0, :, 0], reach, strict=True))
    print(f"{coats} coats: {shown}")
