"""Words a step may begin with, and words it surely does not begin with.

A word that is in neither list is let pass: a list of all verbs of all trades there is not.
"""

from __future__ import annotations

import re


def words(text: str) -> frozenset[str]:
    """The words of a text."""
    return frozenset(text.split())


VERBS = words(
    """
    add adjust agree aim align apply arrange ask assemble attach balance bend bleed block bolt brace bring brush call
    cap carry centre center change charge check choose clamp clean clear climb clip close coil compare compute confirm
    connect continue copy count couple cover cut decide disconnect discharge divide do draw drain drill drive dry
    earth empty enter evacuate fasten feed feel fetch fill find fit fix flush fold follow free give go grease ground
    guide hang hoist hold identify inform insert inspect install join keep label land lay lead leave let level lift
    lift line list listen load lock look loosen lower lubricate make mark mate measure mend mount move multiply name
    note number observe obtain open paint park pass pick pin place plug point position pour press prove pull pump
    purge push put raise reach read record reduce refit release remove repair repeat replace report reset rest restore
    retract return reverse rinse roll rotate route run say seal search seat secure select send set shake shim shout
    show shut sight sign sit slacken slide sling slow sort speak splice spread stand start stay steer step stop stow
    strap subtract support sweep swing switch take tap tape tell test tie tighten tilt torque touch trace transfer
    transport trim try turn uncap uncouple uncover undo unload unlock unpin unplug unscrew unwind use vent verify wait
    walk warm wash watch wear weigh wind wipe wire withdraw work wrap write zero
    """
)
"""Imperative verbs of the trades the language is for."""

_NO_VERBS = words(
    """
    a an the this that these those all both each every some any no none such i we you he she it they one everyone
    everybody someone somebody nobody anyone anybody whoever its their his her our is are was were be been being am
    has had having does did can could may might must shall should will would there here and or but nor so also very
    please
    """
)

_NOUN = re.compile(r"\w{2,}(?:ing|tion|sion|ment|ness|ity|ance|ence|ship)$|\w{3,}ly$")
_VERBS_LIKE_NOUNS = words(
    """
    bring swing ring string spring sling wring cling fling ping ding sting position mention station condition caution
    partition section function cement implement supplement document augment comment experiment witness harness balance
    advance commence fence sequence reference influence apply supply reply rely comply multiply imply rally tally fly
    assembly ship
    """
)


def surely_no_verb(word: str) -> bool:
    """Whether a step that begins with this word (in lower case) does not begin with what is to be done.

    Articles, pronouns, helping verbs, numbers, and words that end as nouns and adverbs do. Words of time and condition
    (`if`, `when`, `after`, `with`) are none of them: a condition comes before its action.
    """
    if not word or not word[0].isascii() or not word[0].isalpha():
        return True
    if word in _NO_VERBS:
        return True
    return word not in VERBS and word not in _VERBS_LIKE_NOUNS and _NOUN.fullmatch(word) is not None
