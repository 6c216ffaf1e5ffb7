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
# # Which of two highlight paints?
#
# A crew of lamplighters in blue wax cloth, invented, is to get its highlight. A pale blue grey is at
# hand, and a bone white. The bone looks chalky when it goes on; but a violet glaze comes over
# everything at the end. Does the choice matter once it is there? This file is a notebook in
# percent format: open it in any notebook program that reads it, or run it as it is.

# %%
import numpy as np

import layersim
from layersim import colour
from layersim.views.compare import difference_words
from layersim.views.tolerance import batch_words

# %% [markdown]
# ## The choices
#
# Written as on the command line: a name, and what it changes in the scheme. The scheme as written comes
# first, and the others are measured against it.

# %%
choices = layersim.choices(
    layersim.demo_scheme(),
    "bone: highlight = 4 bone : 1 sky blue",
    "bone, two coats of glaze: highlight = 4 bone : 1 sky blue; filter.coats = 2",
    areas=["wax cloth"],
)
for choice in choices:
    print(f"{choice.name}: {'; '.join(choice.changes) or 'no change'}")

# %%
comparison = layersim.compare(choices, areas=["wax cloth"], lights=["A"])
[cloth] = comparison.areas

# %% [markdown]
# ## Before the glaze, and finished

# %%
for difference in cloth.differences:
    print(cloth.choices[difference.second].name)
    print("  ΔE00 before the glaze:", np.round(difference.before_delta_e, 1))
    print("  ΔE00 finished:        ", np.round(difference.delta_e, 1))
    print("  happens anyway:       ", np.round(difference.own, 1))

# %% [markdown]
# The highlight's chroma, on the lightest tone, before the glaze and finished:

# %%
for choice in cloth.choices:
    before, _ = choice.area.filter_span
    chroma = colour.lch(choice.area.lab[[before, -1], -1])[:, 1]
    print(f"{choice.name:<26} C* {chroma[0]:4.1f} before, {chroma[1]:4.1f} finished")

# %% [markdown]
# ## In words

# %%
for difference in cloth.differences:
    print(cloth.choices[difference.second].name)
    for sentence in difference_words(cloth, difference):
        print("  ", sentence)

# %% [markdown]
# ## Why the range is narrow
#
# Both choices are sprayed by the same hand from the same bottles. If each had a hand of its own, much
# more could lie between them:

# %%
glazed = cloth.differences[1]
print("the same hand:    ", np.round(glazed.high - glazed.low, 1))
print("hands of their own:", np.round(glazed.apart_high - glazed.apart_low, 1))

# %% [markdown]
# ## The picture

# %%
comparison

# %% [markdown]
# ## And which is the more forgiving?
#
# A batch of ten in each, painted two thousand times:

# %%
for choice in choices[:2]:
    result = layersim.tolerance(choice.scheme, areas=["wax cloth"], batches=2000)
    print(choice.name)
    for sentence in batch_words(result.areas[0], result.models, result.visible):
        print("  ", sentence)
