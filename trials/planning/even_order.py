"""Items dealt to slots inside groups, evenly: the one routine for mixing order, oven places and
measuring order.

Loss, in whole numbers: for each label the squares of counts less their shares, over (level, kind of
slot), and the squares of each level's summed centred order. It is lowered by steepest swaps inside
groups, from random starts, until no arrangement can be better.
"""

from __future__ import annotations

import numpy as np

from ..frozen import frozen

MOST_STARTS = 40
# how much evenness over kinds of slots weighs against an even place on average
COUNT = 4


@frozen
class Even:
    """What is to lie evenly: a label of the items (n,) over a kind of the slots (n,), both whole
    numbers from 0.

    weight : of this label. ordered : whether its levels are also to come equally early on average
    """

    label: np.ndarray
    kind: np.ndarray
    weight: int = 2
    ordered: bool = False

    def apart(self, slot: np.ndarray) -> np.ndarray:
        """Return n times how many more items of each level are in each kind of slot than its share,
        (levels, kinds).

        The share of a level in a kind is as large as the kind is: zones may differ in size, levels
        in number.
        """
        table = np.zeros((int(self.label.max()) + 1, int(self.kind.max()) + 1), dtype=np.int64)
        np.add.at(table, (self.label, self.kind[slot]), 1)
        return len(slot) * table - np.outer(table.sum(axis=1), table.sum(axis=0))

    def bound(self, slot: np.ndarray) -> int:
        """Return the least sum of the squares of ``apart`` that the levels' totals, or the kinds',
        allow.
        """
        table = self.apart(slot)
        return max(_least(table, len(slot)), _least(table.T, len(slot)))


def _least(table: np.ndarray, n: int) -> int:
    """Return the sum of squares when each row, of whole counts with its own total, lies nearest to
    its shares.
    """
    # what each share lacks to a whole number below, times n
    part = -table % n
    over = part.sum(axis=1) // n  # units that are left to give away
    ranked = -np.sort(-part, axis=1)
    gets = np.arange(table.shape[1]) < over[:, None]
    return int(np.where(gets, (n - ranked) ** 2, ranked**2).sum())


def deal_evenly(
    rng: np.random.Generator,
    groups: np.ndarray,
    wanted: list[Even],
    order: np.ndarray | None = None,
    starts: int = MOST_STARTS,
) -> np.ndarray:
    """Return the slot of every item (n,); items and slots of a group are those with its number in
    ``groups`` (n,).

    Slot i lies in the group of item i. ``order`` (n,): the slots' order inside their group, where
    there is one.
    """
    members = [np.flatnonzero(groups == group) for group in np.unique(groups)]
    doubled = (
        _centred(members, order) if order is not None else np.zeros(len(groups), dtype=np.int64)
    )
    best, least = np.arange(len(groups)), None
    for _ in range(starts):
        slot = np.empty(len(groups), dtype=np.int64)
        for group in members:
            slot[group] = rng.permutation(group)
        state = _State(wanted, slot, doubled)
        state.descend(members)
        if least is None or state.loss() < least:
            best, least = state.slot.copy(), state.loss()
        if least <= state.bound():
            break
    return best


def _centred(members: list[np.ndarray], order: np.ndarray) -> np.ndarray:
    """Return twice the order less twice its mean in the group: whole numbers where orders count
    from 1.
    """
    doubled = np.zeros(len(order), dtype=np.int64)
    for group in members:
        ranks = order[group].argsort().argsort()
        doubled[group] = 2 * ranks - (len(group) - 1)
    return doubled


class _State:
    """An arrangement with its tables of counts and sums of order, kept up to date swap by swap."""

    def __init__(self, wanted: list[Even], slot: np.ndarray, order: np.ndarray) -> None:
        self.wanted, self.slot, self.order = wanted, slot, order
        self.tables = [one.apart(slot) for one in wanted]
        self.sums = [np.zeros(int(one.label.max()) + 1, dtype=np.int64) for one in wanted]
        for one, sums in zip(wanted, self.sums, strict=True):
            np.add.at(sums, one.label, order[slot])
        longest = max(int(np.abs(order).max(initial=0)) + 1, 2)
        self.n = len(slot)
        # makes a count weigh the same in a short and in a long order
        self.scale = COUNT * longest**2

    def loss(self) -> int:
        """Return the loss of the arrangement as it is."""
        total = 0
        for one, table, sums in zip(self.wanted, self.tables, self.sums, strict=True):
            total += one.weight * self.scale * int((table**2).sum())
            if one.ordered:
                total += one.weight * self.n**2 * int((sums**2).sum())
        return total

    def bound(self) -> int:
        """Return a loss that no arrangement can go below."""
        total = 0
        for one, sums in zip(self.wanted, self.sums, strict=True):
            total += one.weight * self.scale * one.bound(self.slot)
            if one.ordered:
                total += one.weight * self.n**2 * int((sums % 2).sum())
        return total

    def descend(self, members: list[np.ndarray]) -> None:
        """Make the best swap in each group in turn, until no swap in any group makes it better."""
        better = True
        while better:
            better = False
            for group in members:
                while len(group) > 1 and self._best_swap(group):
                    better = True

    def _best_swap(self, group: np.ndarray) -> bool:
        """Make the swap of two items of a group that lowers the loss most; return whether there was
        one.
        """
        change = np.zeros((len(group), len(group)), dtype=np.int64)
        order = self.order[self.slot[group]]
        for one, table, sums in zip(self.wanted, self.tables, self.sums, strict=True):
            label, kind = one.label[group], one.kind[self.slot[group]]
            # item's level in the other's kind
            there = table[label[:, None], kind[None, :]]
            here = np.diagonal(there)
            counted = 2 * self.n * (there + there.T - here[:, None] - here[None, :] + 2 * self.n)
            apart = label[:, None] != label[None, :]
            gain = (
                one.weight
                * self.scale
                * np.where(apart & (kind[:, None] != kind[None, :]), counted, 0)
            )
            if one.ordered:
                step = order[None, :] - order[:, None]
                of = sums[label]
                moved = 2 * step * (of[:, None] - of[None, :] + step)
                gain += one.weight * self.n**2 * np.where(apart, moved, 0)
            change += gain
        first, second = np.unravel_index(int(change.argmin()), change.shape)
        if change[first, second] >= 0:
            return False
        self._swap(int(group[first]), int(group[second]))
        return True

    def _swap(self, i: int, j: int) -> None:
        """Swap the slots of two items."""
        a, b = int(self.slot[i]), int(self.slot[j])
        for one, table, sums in zip(self.wanted, self.tables, self.sums, strict=True):
            for item, old, new in ((i, a, b), (j, b, a)):
                table[one.label[item], one.kind[old]] -= self.n
                table[one.label[item], one.kind[new]] += self.n
                sums[one.label[item]] += self.order[new] - self.order[old]
        self.slot[i], self.slot[j] = b, a


def spread(label: np.ndarray, kind: np.ndarray) -> int:
    """Return most less least of the counts of a level over kinds, each less its share, in whole
    items.

    Over kinds, or of a kind over levels, whichever is smaller; a share is as large as level and
    kind are.
    """
    table = Even(label, kind).apart(np.arange(len(label)))
    apart = min(np.ptp(table, axis=0).max(), np.ptp(table, axis=1).max())
    return int(apart // len(label))
