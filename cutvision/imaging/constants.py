"""What is not measured in the photo itself: every figure that bears on a bound, with its unit and the study behind it.

The study, where one is named: rendered photos with known truth, 75 groups with plain sensors (269 edges) and 42 as
phones take them (sharpened, denoised, with lateral color and local tone; 161 edges); each edge's line against the true
edge seen by the true camera. Errors over stated uncertainties follow Student's t with about five degrees of freedom.
"""

from __future__ import annotations

SHARED_NOISE = 0.7
SHARED_REACH_MM = 6.0
"""Share of a block's error that hangs together over some blocks (grain, shading, shadow, the profile model's own).

Study: half gave slopes 1.0 times as wrong as stated on plain photos and 1.3 times on phones'; the reach itself, 3 to
50 mm, makes no difference to the likelihood of both slopes and offsets.
"""

STEP_FLOOR_PX = 0.08
DRIFT_FLOOR_PX = 0.04
"""Standard uncertainty of an edge's place, and of its ends against its middle, that no block's scatter shows: contact
shadow, arris, local tone. Study: 0.09 px for places, 0.03 to 0.05 px for drift, by maximum likelihood on plain and on
phone photos."""

TONE_FLOOR_PX = 0.03
"""Standard uncertainty of the place of all edges alike by a tone curve that departs from sRGB's."""

SHAPE_ERROR = 0.02
"""What a sawn edge's profile has that no model says, as a share of the contrast: roughness within a block, a rounded or
splintered arris, the shadow where wood meets paper. Study: 0.01 to 0.03 tried; slopes scatter least from 0.02 on."""

BLOCKS_TOGETHER = 6.0
"""How many blocks say the same when models are compared: what one leaves unexplained in a block, it leaves in its
neighbours too (the reach above)."""

BLUR_PRIOR = 0.4
"""Prior standard deviation of the logarithm of an edge's blur over the squares'. Study: of the phones' edges two in
three came out at 1 to 1.8 times."""

CHROMA_SLOPE = 0.7
"""Standard deviation of how far the paper's color drifts over a profile's reach, in stored values (rendered photos)."""

QUANTISATION = 0.2
"""Standard uncertainty of a stored value averaged over a block, in stored values: 1/sqrt 12 of one, less by
averaging."""
