"""Scenes drawn at random as shops and phones would make them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cutvision.imaging.camera import CameraModel, Pose, project, world_from_sheet
from cutvision.target.sheet import SHEETS, Sheet
from simulation.pieces import board_outline, miter_outline, strip_outline, turned
from simulation.pose import phone_camera, pose_over
from simulation.scene import (
    Ambient,
    Bench,
    BrokenTip,
    Chip,
    Colour,
    Curl,
    Fibre,
    Light,
    PhotoSettings,
    Piece,
    Point,
    Scene,
    Shape,
    Stretch,
)
from simulation.wood import SPECIES

WOODS = tuple(name for name in SPECIES if name not in {"steel", "skin", "paper"})
LIGHTINGS = ("window", "two", "lamp", "hard")
_CLEAR_MM = 3.0


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a random scene must have; None leaves it to chance. print_sd: of the stretch's three parts.

    turnable: a miter piece small enough to lie in the window at every turn.
    """

    paper: str | None = None
    megapixels: float | None = None
    species: str | None = None
    lighting: str | None = None
    tilt_rad: tuple[float, float] = (math.radians(2), math.radians(13))
    print_sd: float = 0.0015
    rough: bool = True
    turnable: bool = False


def random_scene(rng: np.random.Generator, shape: Shape, wishes: Wishes | None = None) -> Scene:
    """One piece of a shape on a sheet, photographed by a phone. The generator's state settles everything."""
    wishes = wishes or Wishes()
    sheet = SHEETS[wishes.paper or str(rng.choice(["a4", "letter", "a4", "letter", "a3", "tabloid"]))]
    stretch = Stretch(*(float(v) for v in rng.normal(0, wishes.print_sd, 3)))
    piece = _random_piece(rng, shape, sheet, wishes)
    return _photographed(rng, Scene(sheet, CameraModel(1, 0, 0), _NOWHERE, _UNSET, shape, stretch, (piece,)), wishes)


_NOWHERE = Pose(np.eye(3), np.array([0.0, 0.0, 1.0]))
_UNSET = PhotoSettings(1, 1)


def turned_scene(rng: np.random.Generator, scene: Scene, turn_rad: float, wishes: Wishes | None = None) -> Scene:
    """The same piece on the same print, turned and laid down anew, photographed again.

    Raises ValueError when the turned piece finds no room in the window.
    """
    wishes = wishes or Wishes()
    old = scene.pieces[0]
    polygon = _placed(rng, old.polygon, scene.sheet, turn_rad)
    piece = replace(old, polygon=polygon, grain_rad=old.grain_rad + turn_rad)
    return _photographed(rng, replace(scene, pieces=(piece,)), wishes, camera=scene.camera, like=scene.settings)


def _random_piece(rng: np.random.Generator, shape: Shape, sheet: Sheet, wishes: Wishes) -> Piece:
    species = wishes.species or str(rng.choice(WOODS))
    for _ in range(200):
        try:
            polygon = _random_polygon(rng, shape, sheet, wishes)
        except ValueError:
            continue
        piece = Piece(
            polygon,
            thickness_mm=float(rng.uniform(6, 25)),
            species=species,
            grain_rad=float(rng.uniform(0, math.pi)),
            seed=int(rng.integers(1 << 30)),
        )
        return _worn(rng, piece) if wishes.rough else piece
    raise ValueError(f"no {shape} found room on {sheet.paper}")


def _random_polygon(rng: np.random.Generator, shape: Shape, sheet: Sheet, wishes: Wishes) -> tuple[Point, ...]:
    left, top, right, bottom = sheet.window_mm
    width, height = right - left, bottom - top
    error = math.radians(float(rng.normal(0, 0.15)))
    square = math.pi / 2 + math.radians(float(rng.normal(0, 0.06)))
    if shape == "miter":
        angle = math.pi / 4 + error
        longest = (height - 2 * _CLEAR_MM) / height if wishes.turnable else 1.3
        outline = miter_outline(float(rng.uniform(0.75, longest) * height), angle, math.pi - square - angle)
        return _placed(rng, outline, sheet, float(rng.uniform(0, 2 * math.pi)))
    if shape == "strip":
        outline = strip_outline(
            float(rng.uniform(0.65, 0.93) * width), float(rng.uniform(18, 42)), error, float(rng.normal(0, 0.01))
        )
        return _placed(rng, outline, sheet, float(rng.uniform(-0.15, 0.15)))
    angles = (square, math.pi / 2 + error, math.pi / 2 + math.radians(float(rng.normal(0, 0.1))))
    if shape == "board":
        sides = rng.uniform(0.5, 0.85, 2) * height
        outline = board_outline(float(sides[0]), float(sides[1]), angles)
        return _placed(rng, outline, sheet, float(rng.uniform(-0.5, 0.5)))
    outline = board_outline(0.9 * sheet.width_mm, 0.9 * sheet.height_mm, angles)
    turn = float(rng.uniform(-0.12, 0.12))
    at = (left + float(rng.uniform(0.25, 0.45)) * width, top + float(rng.uniform(0.2, 0.4)) * height)
    laid = turned(outline, turn, (0.0, 0.0))
    return tuple((x - laid[0][0] + at[0], y - laid[0][1] + at[1]) for x, y in laid)


def _placed(rng: np.random.Generator, outline: tuple[Point, ...], sheet: Sheet, turn_rad: float) -> tuple[Point, ...]:
    """The outline turned and laid somewhere clear of the squares. Raises ValueError when there is no room."""
    laid = np.array(turned(outline, turn_rad, (0.0, 0.0)))
    left, top, right, bottom = sheet.window_mm
    low = np.array([left, top]) + _CLEAR_MM - laid.min(axis=0)
    high = np.array([right, bottom]) - _CLEAR_MM - laid.max(axis=0)
    if np.any(high < low):
        raise ValueError("the piece finds no room in the window")
    # Mostly near the middle, as a hand would lay it.
    place = low + (high - low) * rng.beta(2.5, 2.5, 2)
    return tuple((float(x), float(y)) for x, y in laid + place)


def _worn(rng: np.random.Generator, piece: Piece) -> Piece:
    """Roughness, and sometimes chips, fibres and broken tips."""
    edges = range(len(piece.polygon))
    chips = tuple(
        Chip(k, float(rng.uniform(5, 80)), float(rng.uniform(1, 5)), float(rng.uniform(0.15, 0.9)))
        for k in edges
        for _ in range(int(rng.poisson(0.7)))
    )
    fibres = tuple(
        Fibre(k, float(rng.uniform(5, 80)), float(rng.uniform(0.15, 0.4)), float(rng.uniform(0.2, 1.2)))
        for k in edges
        for _ in range(int(rng.poisson(0.8)))
    )
    tips = tuple(
        BrokenTip(k, float(rng.uniform(0.2, 1.5)), float(rng.normal(0, 0.3))) for k in edges if rng.random() < 0.25
    )
    return replace(
        piece,
        roughness_mm=float(rng.uniform(0.008, 0.035)),
        correlation_mm=float(rng.uniform(0.6, 1.8)),
        chips=chips,
        fibres=fibres,
        broken_tips=tips,
    )


def _photographed(
    rng: np.random.Generator,
    scene: Scene,
    wishes: Wishes,
    camera: CameraModel | None = None,
    like: PhotoSettings | None = None,
) -> Scene:
    if camera is None or like is None:
        megapixels = wishes.megapixels or float(rng.choice([2.0, 5.0, 8.0, 12.0], p=[0.1, 0.2, 0.35, 0.35]))
        width = 16 * round(math.sqrt(megapixels * 4e6 / 3) / 16)
        focal_35mm = float(rng.uniform(24, 28))
        camera = _random_lens(rng, width, width * 3 // 4, focal_35mm)
        like = _random_settings(rng, width, width * 3 // 4, focal_35mm)
    lighting = wishes.lighting or str(rng.choice(LIGHTINGS))
    lights, ambient = _random_light(rng, lighting, scene.sheet)
    return replace(
        scene,
        camera=camera,
        settings=like,
        pose=_random_pose(rng, scene, camera, like, wishes),
        lights=lights,
        ambient=ambient,
        bench=_random_bench(rng),
        curls=_random_curls(rng),
        ink_blur_mm=float(rng.uniform(0.01, 0.03)),
        dust=float(rng.choice([0.0, 0.3, 1.0])),
        glare=float(rng.uniform(0, 0.25)),
        seed=int(rng.integers(1 << 30)),
    )


def _random_lens(rng: np.random.Generator, width: int, height: int, focal_35mm: float) -> CameraModel:
    if rng.random() < 0.25:
        k1, k2, k3 = float(rng.normal(0, 0.004)), 0.0, 0.0
    else:
        k1, k2, k3 = float(rng.uniform(0.01, 0.05)), float(rng.uniform(-0.04, -0.005)), float(rng.normal(0, 0.004))
    return phone_camera(
        width,
        height,
        focal_35mm * float(rng.normal(1, 0.01)),
        k1=k1,
        k2=k2,
        k3=k3,
        p1=float(rng.normal(0, 2e-4)),
        p2=float(rng.normal(0, 2e-4)),
        centre_x_px=width / 2 + float(rng.normal(0, 0.005)) * width,
        centre_y_px=height / 2 + float(rng.normal(0, 0.005)) * width,
    )


def _random_settings(rng: np.random.Generator, width: int, height: int, focal_35mm: float) -> PhotoSettings:
    return PhotoSettings(
        width,
        height,
        blur_px=float(rng.uniform(0.45, 0.85)),
        motion_px=tuple(float(v) for v in rng.normal(0, 0.25, 2)),  # type: ignore[arg-type]
        level=float(rng.uniform(0.58, 0.82)),
        full_well=float(rng.choice([2500, 4500, 9000])),
        read_noise=float(rng.uniform(2, 5)),
        tint=tuple(float(v) for v in rng.normal(1, 0.035, 3)),  # type: ignore[arg-type]
        s_curve=float(rng.uniform(0, 0.2)),
        exponent=float(rng.normal(1, 0.03)),
        denoise=float(rng.uniform(0.1, 0.8)),
        sharpen=float(rng.uniform(0, 0.45)),
        vignette=float(rng.uniform(0.04, 0.15)),
        quality=int(rng.integers(88, 96)),
        orientation=int(rng.choice([1, 1, 1, 6, 8, 3])),
        focal_35mm=focal_35mm if rng.random() < 0.85 else None,
    )


def _random_pose(
    rng: np.random.Generator, scene: Scene, camera: CameraModel, settings: PhotoSettings, wishes: Wishes
) -> Pose:
    """A pose from 260 to 450 mm, mostly near, higher when the frame asks for it: the whole frame shows."""
    sheet = scene.sheet
    ring = np.array([[0, 0], [sheet.width_mm, 0], [sheet.width_mm, sheet.height_mm], [0, sheet.height_mm]])
    aim = (sheet.width_mm / 2 + float(rng.normal(0, 6)), sheet.height_mm / 2 + float(rng.normal(0, 6)))
    tilt, azimuth = float(rng.uniform(*wishes.tilt_rad)), float(rng.uniform(0, 2 * math.pi))
    roll = float(rng.normal(0, 0.09)) + (math.pi if rng.random() < 0.1 else 0.0)
    distance = 260 + 190 * float(rng.beta(1.2, 2.5))
    margin = 0.015 * settings.width_px
    limit = np.array([settings.width_px, settings.height_px]) - margin
    while True:
        pose = pose_over(aim, distance, tilt, azimuth, roll)
        pixels = project(camera, pose, world_from_sheet(scene.true_from_nominal(ring.astype(float))))
        if np.all(pixels > margin) and np.all(pixels < limit):
            return pose
        distance *= 1.04


def _random_light(rng: np.random.Generator, lighting: str, sheet: Sheet) -> tuple[tuple[Light, ...], Ambient]:
    cx, cy = sheet.width_mm / 2, sheet.height_mm / 2
    warm: Colour = (1.12, 1.0, 0.80)
    cool: Colour = (0.93, 1.0, 1.10)
    gradient = [float(v) for v in rng.normal(0, 0.05, 2)]

    def lamp(radius: tuple[float, float], power: float, colour: Colour, rise: tuple[float, float]) -> Light:
        turn, out = float(rng.uniform(0, 2 * math.pi)), float(rng.uniform(350, 1100))
        place = (cx + out * math.cos(turn), cy + out * math.sin(turn))
        return Light(*place, float(rng.uniform(*rise)), float(rng.uniform(*radius)), power, colour)

    if lighting == "window":
        power = float(rng.uniform(0.4, 0.65))
        lights: tuple[Light, ...] = (lamp((200, 380), power, cool, (900, 1500)),)
    elif lighting == "two":
        power = float(rng.uniform(0.55, 0.75))
        lights = (
            lamp((150, 280), power * 0.6, cool, (800, 1400)),
            lamp((40, 90), power * 0.4, warm, (500, 900)),
        )
    elif lighting == "lamp":
        power = float(rng.uniform(0.6, 0.8))
        lights = (lamp((30, 90), power, warm, (500, 900)),)
    else:
        power = float(rng.uniform(0.65, 0.85))
        lights = (lamp((4, 18), power, (1.0, 1.0, 1.0), (600, 1400)),)
    return lights, Ambient(1 - power, gradient_x=gradient[0], gradient_y=gradient[1])


def _random_curls(rng: np.random.Generator) -> tuple[Curl, ...]:
    """Now and then a corner or two of the paper that the tape does not hold."""
    if rng.random() > 0.25:
        return ()
    corners = rng.permutation(4)[: int(rng.integers(1, 3))]
    return tuple(Curl(int(k), float(rng.uniform(0.3, 2.5)), float(rng.uniform(50, 90))) for k in corners)


def _random_bench(rng: np.random.Generator) -> Bench:
    kind = str(rng.choice(["pine", "walnut", "birch-ply", "mat", "painted", "oak"]))
    colours: tuple[Colour, ...] = ((0.05, 0.14, 0.11), (0.04, 0.05, 0.13), (0.22, 0.23, 0.25), (0.10, 0.07, 0.05))
    return Bench(kind, colours[int(rng.integers(len(colours)))], float(rng.normal(0, 0.25)))
