"""Faults between things: names given twice, names and tubes that lead nowhere, brushes that do not fit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from lumenward.equipment.endoscope import Channel, EndoscopeModel, Tube
from lumenward.equipment.finding import Finding, Path, one_of
from lumenward.equipment.library import Library

OUT = "out"
# A brush must touch the wall of the narrowest bore it is drawn through, and still go in (common practice, no source).
WIDEST_BRUSH = 3.0

Seen = dict[str, str]


def endoscope(model: EndoscopeModel) -> Iterator[Finding]:
    """Yield what does not fit together inside one endoscope model."""
    for listed in ("ports", "tubes", "channels"):
        yield from _twice([one.id for one in getattr(model, listed)], listed)
    for i, channel in enumerate(model.channels):
        yield from _channel(model, channel, ("channels", i))
    for i, tube in enumerate(model.tubes):
        if not _reaches_out(model.tubes, tube.from_):
            message = f"tube {tube.id!r} is not connected to the open distal end {OUT!r}"
            yield Finding("no-way-out", ("tubes", i, "to"), message, "Check the names of its nodes.")
        if not any(tube.id in channel.tubes for channel in model.channels):
            message = f"tube {tube.id!r} belongs to no channel, so nobody would be told to clean it"
            yield Finding("no-channel", ("tubes", i, "id"), message, "Add it to a channel.")
    for i, port in enumerate(model.ports):
        if not _reaches_out(model.tubes, port.node):
            message = f"from port {port.id!r} (node {port.node!r}) no tube leads to the open end {OUT!r}"
            yield Finding("no-way-out", ("ports", i, "node"), message, one_of(_nodes(model), port.node))
    for i, one in enumerate(model.ifu.states):
        if one.channel is not None and model.channel(one.channel) is None:
            yield _dangling(("ifu", "states", i, "channel"), one.channel, [c.id for c in model.channels])


def _channel(model: EndoscopeModel, channel: Channel, at: Path) -> Iterator[Finding]:
    tubes = {tube.id: tube for tube in model.tubes}
    ports = {port.id: port for port in model.ports}
    unknown = [(i, name) for i, name in enumerate(channel.tubes) if name not in tubes]
    for i, name in unknown:
        yield _dangling((*at, "tubes", i), name, tubes)
    if channel.port not in ports:
        yield _dangling((*at, "port"), channel.port, ports)
    elif not unknown:
        yield from _run(channel, [tubes[name] for name in channel.tubes], ports[channel.port].node, at)


def _run(channel: Channel, run: list[Tube], node: str, at: Path) -> Iterator[Finding]:
    for i, tube in enumerate(run):
        if node not in (tube.from_, tube.to):
            message = f"tube {tube.id!r} does not begin at {node!r}, where the channel has come to"
            yield Finding(
                "not-connected", (*at, "tubes", i), message, "List the tubes from the port to the tip."
            )
            return
        node = tube.to if node == tube.from_ else tube.from_
    if node != OUT:
        message = f"channel {channel.id!r} ends at {node!r}, not at the open distal end {OUT!r}"
        yield Finding("no-way-out", (*at, "tubes"), message, "Add the tube that leads to the tip.")
    yield from _brush(channel, run, at)


def _brush(channel: Channel, run: list[Tube], at: Path) -> Iterator[Finding]:
    narrowest = min(tube.bore_mm for tube in run)
    if channel.brush is None or narrowest <= channel.brush.diameter_mm <= WIDEST_BRUSH * narrowest:
        return
    message = (
        f"a brush of {channel.brush.diameter_mm:g} mm does not suit the narrowest bore, {narrowest:g} mm: "
        f"{narrowest:g} to {WIDEST_BRUSH * narrowest:g} mm is expected"
    )
    yield Finding("brush-size", (*at, "brush", "diameter_mm"), message, "Check the brush and the bore.")


def _nodes(model: EndoscopeModel) -> list[str]:
    return [node for tube in model.tubes for node in (tube.from_, tube.to)]


def _reaches_out(tubes: Iterable[Tube], node: str) -> bool:
    reached, left = {OUT}, list(tubes)
    while node not in reached:
        touching = [t for t in left if t.from_ in reached or t.to in reached]
        if not touching:
            return False
        reached.update(end for t in touching for end in (t.from_, t.to))
        left = [t for t in left if t not in touching]
    return True


def library(whole: Library) -> Iterator[Finding]:
    """Yield what does not fit together between the things of a library."""
    yield from _names(whole)
    for i, model in enumerate(whole.endoscopes):
        yield from (one.under("endoscopes", i) for one in endoscope(model))
    yield from _links(whole)
    yield from _connector_ports(whole)
    yield from _brushware(whole)
    yield from _chemistries(whole)
    yield from _kit_units(whole)


def _names(whole: Library) -> Iterator[Finding]:
    ids: dict[str, Seen] = {}
    codes: Seen = {}
    gtins: Seen = {}
    for shelf in Library.model_fields:
        group = "vessels" if shelf in ("sinks", "containers") else shelf
        for i, one in enumerate(getattr(whole, shelf)):
            for key, seen in (("id", ids.setdefault(group, {})), ("code", codes), ("gtin", gtins)):
                yield from _once(one, key, seen, (shelf, i, key))


def _once(one: Any, key: str, seen: Seen, path: Path) -> Iterator[Finding]:
    value = getattr(one, key, None)
    if value is None:
        return
    if value in seen:
        message = f"the {key} {value!r} is already that of {seen[value]!r}"
        yield Finding("duplicate", path, message, f"Give each thing its own {key}.")
    seen.setdefault(value, one.name)


def _links(whole: Library) -> Iterator[Finding]:
    links = (
        ("sinks", "pump", "pumps"),
        ("sinks", "water", "waters"),
        ("kits", "meter", "meters"),
    )
    for shelf, key, target in links:
        known = [one.id for one in getattr(whole, target)]
        for i, one in enumerate(getattr(whole, shelf)):
            if getattr(one, key) not in known:
                yield _dangling((shelf, i, key), getattr(one, key), known)
    models = [model.id for model in whole.endoscopes]
    for shelf in ("connector_sets", "washers"):
        for i, one in enumerate(getattr(whole, shelf)):
            for j, name in enumerate(one.fits):
                if name not in models:
                    yield _dangling((shelf, i, "fits", j), name, models)


def _connector_ports(whole: Library) -> Iterator[Finding]:
    models = {model.id: model for model in whole.endoscopes}
    for i, one in enumerate(whole.connector_sets):
        for name in one.fits:
            ports = {port.id for port in models[name].ports} if name in models else None
            for j, tube in enumerate(one.tubes):
                if ports is not None and tube.port not in ports:
                    message = f"model {name!r}, which the set is said to fit, has no port {tube.port!r}"
                    path = ("connector_sets", i, "tubes", j, "port")
                    yield Finding("not-in-library", path, message, one_of(ports, tube.port))


def _brushware(whole: Library) -> Iterator[Finding]:
    known = {brush.code: brush.diameter_mm for brush in whole.brushes}
    for i, model in enumerate(whole.endoscopes):
        for j, channel in enumerate(model.channels):
            at = ("endoscopes", i, "channels", j, "brush")
            if channel.brush is None:
                continue
            if channel.brush.code not in known:
                yield _dangling((*at, "code"), channel.brush.code, known)
            elif known[channel.brush.code] != channel.brush.diameter_mm:
                message = (
                    f"brush {channel.brush.code!r} measures {known[channel.brush.code]:g} mm on its shelf; "
                    f"found {channel.brush.diameter_mm:g}"
                )
                yield Finding("contradiction", (*at, "diameter_mm"), message, "Check both figures.")


def _chemistries(whole: Library) -> Iterator[Finding]:
    known = [one.chemistry for one in whole.disinfectants]
    for i, model in enumerate(whole.endoscopes):
        for j, name in enumerate(model.ifu.chemistries):
            if name not in known:
                yield _dangling(("endoscopes", i, "ifu", "chemistries", j), name, known)
    for shelf in ("washers", "strips"):
        for i, one in enumerate(getattr(whole, shelf)):
            if one.chemistry not in known:
                yield _dangling((shelf, i, "chemistry"), one.chemistry, known)


def _kit_units(whole: Library) -> Iterator[Finding]:
    units = {meter.id: meter.unit for meter in whole.meters}
    for i, kit in enumerate(whole.kits):
        unit = units.get(kit.meter, kit.unit)
        if unit != kit.unit:
            message = f"the kit's limits are in {kit.unit}, its meter reads {unit}"
            yield Finding(
                "wrong-unit", ("kits", i, "unit"), message, "Limits belong to meter and kit together."
            )


def _twice(ids: list[str], listed: str) -> Iterator[Finding]:
    for i, one in enumerate(ids):
        if one in ids[:i]:
            message = f"the id {one!r} is there twice"
            yield Finding("duplicate", (listed, i, "id"), message, "Give each its own id.")


def _dangling(path: Path, name: str, known: Iterable[str]) -> Finding:
    return Finding("not-in-library", path, f"there is no {name!r} to refer to", one_of(known, name))
