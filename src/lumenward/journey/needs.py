"""What one model asks for under one policy: the list against which work, legality and verdict are held."""

from __future__ import annotations

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.policy import EveryUse, Policy


def channels(model: EndoscopeModel) -> list[str]:
    """Return every channel, in the model's order: all are flushed, purged and rinsed, used or not."""
    return [channel.id for channel in model.channels]


def brushable(model: EndoscopeModel) -> list[str]:
    """Return the channels the IFU gives a brush for."""
    return [channel.id for channel in model.channels if channel.brush is not None]


def aspirated(model: EndoscopeModel) -> list[str]:
    """Return the channels through which detergent is drawn."""
    return [channel.id for channel in model.channels if channel.aspirates]


def ports(model: EndoscopeModel) -> list[str]:
    """Return the ports through which the channels are fed, each once."""
    return list(dict.fromkeys(channel.port for channel in model.channels))


def has_elevator(model: EndoscopeModel) -> bool:
    """Return whether there is a recess to be cleaned in both positions of the elevator."""
    return model.family in ("duodenoscope", "echoendoscope")


def asked(rule: EveryUse, model: EndoscopeModel) -> bool:
    """Return whether an "each use" rule of the policy speaks of this model."""
    return rule == "each use" or (rule == "each use if high-risk" and model.high_risk)


def verified(model: EndoscopeModel, policy: Policy) -> bool:
    """Return whether a cleaning verification is asked for after each use."""
    return asked(policy.verification, model)


def borescope(model: EndoscopeModel, policy: Policy) -> bool:
    """Return whether the inspection needs a borescope: there is a channel, and IFU or policy ask for it."""
    return bool(model.channels) and (model.ifu.borescope or asked(policy.borescope, model))


def names(model: EndoscopeModel, ids: list[str]) -> list[str]:
    """Return the channels' names as the trade says them."""
    return [found.name if (found := model.channel(one)) else one for one in ids]
