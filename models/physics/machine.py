"""The flushing machine and what stands between it and the network: pump curve, hoses, connection, water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.physics.losses import LossLaw, Tube
from models.physics.network_steps import Linear, Losses
from models.physics.water import density_kg_m3, viscosity_pa_s

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Machine:
    """Flushing machine: head = `shutoff_pa` − `fall` · flow²; arrays over jobs.

    `shutoff_pa` [Pa], `fall` [Pa/(L/min)²], `max_flow_l_min` [L/min] with the hoses joined to each other.
    """

    shutoff_pa: Floats
    fall: Floats
    max_flow_l_min: Floats

    @classmethod
    def of(cls, max_flow_l_min: ArrayLike, shutoff_pa: ArrayLike, hose_loss_pa: ArrayLike) -> Self:
        """From the flow with hoses joined [L/min] and what the hoses lose at that flow [Pa].

        ValueError where the hoses alone would take the whole head.
        """
        flow, shutoff, hoses = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in (max_flow_l_min, shutoff_pa, hose_loss_pa))
        )
        if np.any(flow <= 0.0) or np.any(hoses >= shutoff):
            raise ValueError("max_flow_l_min must be above 0 and shutoff_pa above hose_loss_pa")
        return cls(np.array(shutoff), np.asarray((shutoff - hoses) / flow**2), np.array(flow))

    @classmethod
    def with_hoses(
        cls, max_flow_l_min: ArrayLike, shutoff_pa: ArrayLike, hoses: Tube, temp_c: ArrayLike = 15.0
    ) -> Self:
        """The same from the hoses themselves (jobs,), with water at `temp_c` [°C] while they were joined."""
        flow = np.broadcast_to(np.asarray(max_flow_l_min, dtype=np.float64), hoses.bore_mm.shape)
        lost, _ = LossLaw.of(hoses).loss(flow, density_kg_m3(temp_c), viscosity_pa_s(temp_c))
        return cls.of(flow, shutoff_pa, lost)

    def take(self, rows: Ints) -> Self:
        """The machines of those jobs."""
        return type(self)(self.shutoff_pa[rows], self.fall[rows], self.max_flow_l_min[rows])


def shutoff_from_open_hoses_pa(hose_loss_pa: ArrayLike, inner_share: ArrayLike = 0.8) -> Floats:
    """Shut-off head [Pa] of a machine whose hoses lose `hose_loss_pa` when joined to each other.

    `inner_share` (0..1): part of the head that is lost inside the machine at that flow; `assumption`, a flow
    reading alone cannot tell it.
    """
    return np.asarray(np.asarray(hose_loss_pa, dtype=np.float64) / (1.0 - np.asarray(inner_share, dtype=np.float64)))


def share_of_maximum(total_l_min: ArrayLike, machine: Machine) -> Floats:
    """Flow as a share of what the machine gives with its hoses joined to each other (jobs,)."""
    return np.asarray(np.asarray(total_l_min, dtype=np.float64) / machine.max_flow_l_min)


@dataclass(frozen=True, slots=True)
class Drive:
    """Machine, common path and water of the jobs, arrays (jobs,): what stands before the network.

    `added` [Pa/(L/min)²]; `density` [kg/m³]; `viscosity` [Pa s].
    """

    machine: Machine
    common: tuple[LossLaw, ...]
    added: Floats
    density: Floats
    viscosity: Floats

    @classmethod
    def of(cls, machine: Machine, common: tuple[LossLaw, ...], temp_c: ArrayLike, added: ArrayLike) -> Self:
        """With water at `temp_c` [°C] and a further resistance `added` [Pa/(L/min)²], per job or one for all."""
        shape = machine.shutoff_pa.shape
        temp, more = (np.broadcast_to(np.asarray(v, dtype=np.float64), shape) for v in (temp_c, added))
        return cls(machine, common, more, density_kg_m3(temp), viscosity_pa_s(temp))

    def at(self, total: Floats) -> Linear:
        """Head that is left for the network at that total flow, and its slope."""
        square = self.machine.fall + self.added
        head, slope = self.machine.shutoff_pa - square * total * np.abs(total), -2.0 * square * np.abs(total)
        for law in self.common:
            loss, steep = law.loss(total, self.density, self.viscosity)
            head, slope = head - loss, slope - steep
        return Linear(head, slope)

    @property
    def square(self) -> Floats:
        """Square-law resistance of all that stands before the network [Pa/(L/min)²]."""
        paths = [law.square_law(self.density) for law in self.common]
        return np.asarray(sum(paths, self.machine.fall + self.added))

    def losses(self, law: LossLaw, flow: Floats) -> Losses:
        """Loss and slope of a law of shape (emitters, jobs)."""
        return Losses(*law.loss(flow, self.density, self.viscosity))
