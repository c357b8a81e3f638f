"""Named tuples of arrays handed to compiled functions by reference.

A compiled function takes a named tuple as some seven arguments for each of its arrays: several hundred for the
timetable's, copied at every call, which took longer than the work itself. ``by_ref(tuple)`` is one pointer with the
same attributes, for the function that made it and those that it calls. What it points to must not be assigned to
(the arrays in it may).
"""

from __future__ import annotations

from collections.abc import Callable

from llvmlite import ir
from numba.core import cgutils, types
from numba.core.datamodel import models, register_default
from numba.core.imputils import impl_ret_borrowed, lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate, infer_getattr
from numba.extending import intrinsic

POINTER = ir.IntType(8).as_pointer()


class ByRef(types.Type):
    """Type of a reference to a named tuple of type ``of``."""

    def __init__(self, of: types.NamedTuple) -> None:
        self.of = of
        super().__init__(name=f"by_ref({of})")


@register_default(ByRef)
class _Model(models.PrimitiveModel):
    def __init__(self, dmm, fe_type) -> None:
        super().__init__(dmm, fe_type, POINTER)


@infer_getattr
class _Attributes(AttributeTemplate):
    key = ByRef

    def generic_resolve(self, ref, attr):  # type: ignore[override]
        if attr not in ref.of.fields:
            return None
        of = ref.of.types[ref.of.fields.index(attr)]
        return ByRef(of) if isinstance(of, types.NamedTuple) else of


@lower_getattr_generic(ByRef)
def _get(context, builder, ref, value, attr):
    at = ref.of.fields.index(attr)
    whole = builder.bitcast(value, context.get_value_type(ref.of).as_pointer())
    part = cgutils.gep_inbounds(builder, whole, 0, at)
    of = ref.of.types[at]
    if isinstance(of, types.NamedTuple):
        return builder.bitcast(part, POINTER)
    load = builder.load(part)
    load.set_metadata("invariant.load", builder.module.add_metadata([]))
    return impl_ret_borrowed(context, builder, of, load)


def _by_ref(typingctx, whole):
    """A reference to a named tuple, or the reference itself where it is one."""
    if isinstance(whole, ByRef):
        return whole(whole), lambda context, builder, signature, args: args[0]
    if not isinstance(whole, types.NamedTuple):
        return None

    def point(context, builder, signature, args):
        return builder.bitcast(cgutils.alloca_once_value(builder, args[0]), POINTER)

    return ByRef(whole)(whole), point


by_ref: Callable = intrinsic(_by_ref)
