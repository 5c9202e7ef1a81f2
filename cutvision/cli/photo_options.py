"""What is known beside the photos of a piece: options that `measure` and `compare` share."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutvision.cli.correct_options import length
from cutvision.cli.output import Progress
from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.measurement.request import MeasureRequest
    from cutvision.measurement.result import Shape
    from cutvision.target.print_scale import PrintReadings

THICKEST_MM = 150.0  # the deepest table saws cut some 130 mm (common practice, no source)


@dataclass(frozen=True, slots=True)
class PhotoOptions:
    """The stock, the print and the camera. How well the print was read is an option of each command's own."""

    thickness: Annotated[
        str | None, typer.Option("--thickness", metavar="LENGTH", help="The stock's thickness, as 19mm or 3/4in.")
    ] = None
    long_side: Annotated[
        str | None,
        typer.Option("--long-side", metavar="LENGTH", help="The printed frame's long side, as read on the paper."),
    ] = None
    short_side: Annotated[
        str | None, typer.Option("--short-side", metavar="LENGTH", help="Its short side, as read on the paper.")
    ] = None
    diagonal_down: Annotated[
        str | None,
        typer.Option("--diagonal-down", metavar="LENGTH", help="Its diagonal from top left to bottom right."),
    ] = None
    diagonal_up: Annotated[
        str | None, typer.Option("--diagonal-up", metavar="LENGTH", help="Its diagonal from bottom left to top right.")
    ] = None
    camera: Annotated[
        Path | None, typer.Option("--camera", metavar="FILE", help="What `cutvision camera calibrate` wrote.")
    ] = None
    progress: Annotated[bool, typer.Option("--progress", help="Say what is being done even without a terminal.")] = (
        False
    )

    def request(
        self, shape: Shape, nominal_rad: float, read_to: str | None, read_to_option: str = "--read-to"
    ) -> MeasureRequest:
        """What is asked of the photos; read_to: how well the print was read.

        Raises InputError for a wrong value and for a file that holds no camera.
        """
        from cutvision.imaging.camera_file import read_camera_file
        from cutvision.measurement.request import MeasureRequest

        return MeasureRequest(
            shape=shape,
            thickness_mm=self._thickness_mm(),
            nominal_rad=nominal_rad,
            readings=self._print_readings(read_to, read_to_option),
            camera=None if self.camera is None else read_camera_file(self.camera),
        )

    def speaker(self) -> Progress:
        """Who says what is being done."""
        return Progress(True if self.progress else None)

    def given(self) -> tuple[str, ...]:
        """Those of the options that were typed and only make sense beside photos."""
        values = {
            "--thickness": self.thickness,
            "--long-side": self.long_side,
            "--short-side": self.short_side,
            "--diagonal-down": self.diagonal_down,
            "--diagonal-up": self.diagonal_up,
            "--camera": self.camera,
        }
        return tuple(option for option, value in values.items() if value is not None)

    def _thickness_mm(self) -> float | None:
        """The stock's thickness. Raises InputError also for more than any table saw cuts through."""
        thickness_mm = length(self.thickness, "--thickness")
        if thickness_mm is not None and thickness_mm > THICKEST_MM:
            message = f"--thickness is '{self.thickness}': no table saw cuts through more than {THICKEST_MM:g} mm."
            raise InputError(message, "Give the height of the piece as it lies on the sheet, such as 19mm or 3/4in.")
        return thickness_mm

    def _print_readings(self, read_to: str | None, read_to_option: str) -> PrintReadings | None:
        """What was read on the print. Raises InputError when no more than how well it was read is given."""
        from cutvision.target.print_scale import READ_TO_MM, PrintReadings

        to_mm = length(read_to, read_to_option)
        readings = PrintReadings(
            long_side_mm=length(self.long_side, "--long-side"),
            short_side_mm=length(self.short_side, "--short-side"),
            read_to_mm=READ_TO_MM if to_mm is None else to_mm,
            diagonal_down_mm=length(self.diagonal_down, "--diagonal-down"),
            diagonal_up_mm=length(self.diagonal_up, "--diagonal-up"),
        )
        if self.long_side or self.short_side or self.diagonal_down or self.diagonal_up:
            return readings
        if read_to:
            message = f"{read_to_option} says how well lengths were read on the print, but none is given."
            raise InputError(message, f"Give --long-side and --short-side too, or leave {read_to_option} out.")
        return None
