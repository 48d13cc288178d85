"""Did you mean: the few known words nearest to a mistyped one, or none."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str], most: int = 3) -> tuple[str, ...]:
    """Known words close to `word`, nearest first; case and underscores do not count as differences."""
    import difflib

    def fold(text: str) -> str:
        return text.replace("_", "").replace(" ", "").casefold()

    target = fold(word)
    if not target or len(target) > 64:
        return ()
    scored: list[tuple[float, str]] = []
    for candidate in sorted(set(known)):
        if len(candidate) > 64:
            continue
        other = fold(candidate)
        if other == target:
            scored.append((1.0, candidate))
            continue
        if 2 * min(len(target), len(other)) < 0.6 * (len(target) + len(other)):
            continue  # too unlike in length; most words are, and comparing is slow
        matcher = difflib.SequenceMatcher(None, target, other)
        ratio = matcher.ratio() if matcher.quick_ratio() >= 0.6 else 0.0
        # Short words need a letter in common at the front as well, or "m" would suggest "mm" and "h" alike.
        if ratio >= 0.6 and (len(target) > 2 or other[:1] == target[:1]):
            scored.append((ratio, candidate))
    scored.sort(key=lambda pair: (-pair[0], pair[1]))
    return tuple(candidate for _, candidate in scored[:most])


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint sentence, or an empty string when nothing is near."""
    near = nearest(word, known)
    if not near:
        return ""
    return "did you mean " + " or ".join(f"`{n}`" for n in near) + "?"
