"""The tightening methods, one a module: what each controls, what comes of it, its derivation."""

from preloadmc.joint.facts import Method
from preloadmc.joint.methods.angle import TORQUE_THEN_ANGLE
from preloadmc.joint.methods.elongation import ELONGATION_MEASURED
from preloadmc.joint.methods.stated import STATED_SCATTER
from preloadmc.joint.methods.tensioner import HYDRAULIC_TENSIONING
from preloadmc.joint.methods.torque import PULSE, TORQUE
from preloadmc.joint.methods.yield_point import YIELD_POINT

METHODS: dict[str, Method] = {
    method.name: method
    for method in (
        TORQUE,
        TORQUE_THEN_ANGLE,
        YIELD_POINT,
        HYDRAULIC_TENSIONING,
        ELONGATION_MEASURED,
        PULSE,
        STATED_SCATTER,
    )
}
