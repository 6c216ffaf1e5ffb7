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
# # What does the filter do to the base?
#
# The main job, step by step: read a scheme, predict its tones, look at them, change one thing, look
# again. The paints and the scheme are invented. This file is a notebook in percent format, to run as
# it is; the .ipynb beside it is the same, with what it prints and draws.

# %%
from dataclasses import replace

import numpy as np

import layersim
from layersim import colour

scheme = layersim.load_scheme(layersim.demo_scheme())
[area.name for area in scheme.areas]

# %% [markdown]
# ## Predict
#
# One record an area; arrays run over stages, tones (deepest shadow first) and wavelengths.

# %%
prediction = scheme.predict()
cloth = prediction.areas[0]
for stage, lab, reach in zip(cloth.stages, cloth.lab, cloth.reach, strict=True):
    print(f"{stage.name:<14} L* {lab[0, 0]:5.1f} to {lab[-1, 0]:5.1f}   within ΔE00 {reach.mean():.1f}")

# %% [markdown]
# ## Before and after the filter

# %%
before, after = (cloth.lab[i] for i in cloth.filter_span)
print("ΔE00:", np.round(cloth.filter_shift(), 1))
print("chroma before:", np.round(colour.lch(before)[:, 1], 1))
print("chroma after: ", np.round(colour.lch(after)[:, 1], 1))

# %% [markdown]
# ## One pass or two?
#
# Records are frozen; `replace` makes changed copies. The scheme with two passes of the filter:


# %%
def with_filter_passes(area, passes):
    coats = tuple(replace(coat, coats=passes) if coat.is_filter else coat for coat in area.coats)
    return replace(area, coats=coats)


one, two = (
    layersim.simulate(replace(scheme, areas=(with_filter_passes(scheme.areas[0], passes),))).areas[0]
    for passes in (1, 2)
)
difference = colour.delta_e_2000(one.lab[-1], two.lab[-1])
print("finished tones differ by ΔE00", np.round(difference, 1))
print("and each is known within     ", np.round(two.reach[-1], 1))

# %% [markdown]
# Where the difference is smaller than the range, the choice matters less than the hand.
#
# ## The picture
#
# An answer shows itself. `prediction.save("strip.png")` writes it; so it does as .pdf, .svg, .html and .json.

# %%
prediction

# %% [markdown]
# ## What would make it surer

# %%
for cause in cloth.causes[:5]:
    print(f"ΔE00 {cause.delta_e:.2f}  {cause.what}: {cause.advice}")
