"""Sites over JSON, and each as a tree of marks."""

from pydantic import BaseModel

from service.api.asking import Around, Asker
from service.api.register_router import ThingId, register_router
from service.domain.register import Noun
from service.domain.register_tree import Mark, Node
from service.domain.words import Level
from service.usecases.register.browse import see_site_tree

router = register_router(Noun.SITE)


class MarkOut(BaseModel):
    """How the points under a node stand: the gravest level (None: no verdict on any) and the counts.

    ``levels`` counts the points at level 0 … 4.
    """

    points: int
    levels: list[int]
    level: Level | None
    at_least: bool
    no_verdict: int


class NodeOut(BaseModel):
    noun: Noun
    id: int
    key: str
    name: str
    mark: MarkOut
    children: list["NodeOut"]


class SiteTreeOut(BaseModel):
    site_id: int
    name: str
    mark: MarkOut
    areas: list[NodeOut]


def _mark(mark: Mark) -> MarkOut:
    return MarkOut.model_validate(mark, from_attributes=True)


def _node(node: Node) -> NodeOut:
    return NodeOut(
        noun=node.noun,
        id=node.id,
        key=node.key,
        name=node.name,
        mark=_mark(node.mark),
        children=[_node(child) for child in node.children],
    )


@router.get("/{thing_id}/tree", operation_id="see_site_tree")
def see_tree(around: Around, actor: Asker, thing_id: ThingId) -> SiteTreeOut:
    """The site down to its points, every node with its mark."""
    tree = see_site_tree(around.store, actor, thing_id)
    return SiteTreeOut(
        site_id=tree.site.id,
        name=tree.site.name,
        mark=_mark(tree.mark),
        areas=[_node(area) for area in tree.areas],
    )
