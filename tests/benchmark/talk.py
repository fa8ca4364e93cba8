"""Speech that is not for the assistant: made-up talk of a workshop, a radio, a telephone.

The sentences are put together from patterns by a seeded generator, with the assistant's own words
in them ("pass me the torque wrench", "the next step up from that"). None is a whole command: where
somebody says one to a colleague, no listener can know. Read prose is added from Debian's
pocketsphinx-testdata, where it is installed.
"""

import random
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from assistant.audio import pcm
from tests.benchmark import noises, voices

PROSE = Path("/usr/share/pocketsphinx/test/data/librivox")

_PATTERNS: dict[str, tuple[str, ...]] = {
    "workshop": (
        "pass me the {tool} will you",
        "have you seen the {tool} it was on the {place} a minute ago",
        "{name} borrowed my {tool} and never brought it back",
        "the {part} on that {machine} was {state} when it came in",
        "who left the {tool} in the {place}",
        "i would not trust that {part} it looks {state} to me",
        "can you give me a hand with this {part} before {time}",
        "we did one of these {machine}s {time} and the {part} was {state} as well",
        "tell {name} the {part} for the {machine} is coming {time}",
        "the boss wants the {machine} out of here {time}",
        "that is the second {part} this week that came back {state}",
        "mind your back i am coming through with the {machine}",
        "is that your {tool} or mine",
        "put it down on the {place} and leave it there",
        "there is no way that {part} goes in without a {tool}",
        "i checked the {part} twice and it is not {state} any more",
        "the next step up from that is a new {machine}",
        "what size shoes do you take {name}",
        "they ordered the wrong {part} again for the {machine}",
        "close the door {name} it is freezing in here",
        "that job is closed as far as i am concerned",
        "i noted it down on the {place} somewhere",
        "he tightened it until it {broke} and then he tightened it some more",
        "somebody skipped a step on this {machine} if you ask me",
        "it reads fine to me but the gauge is rubbish",
        "what torque did you use on the {machine} {time}",
        "resume work after lunch he said",
        "the bag with the {part}s fell off the {place}",
        "do not stand by the {machine} while it is running",
        "how much did they charge for that {part}",
        "which way round does the {part} go {name}",
        "no that is wrong the {part} sits behind the {part}",
        "yes that is right {name} told me {time}",
        "say that again i had the {tool} running",
        "give me more detail when you have seen the {machine}",
        "start the compressor and then the timer on the wall",
        "left a bit left a bit more and down onto the {place}",
        "the upper one is {state} and the lower one is not much better",
    ),
    "numbers": (
        "it was {small} or {small} i do not remember which",
        "my mate paid {big} for a {machine} like that",
        "we need about {small} {part}s by {time}",
        "he has been here {small} years and still cannot find the {tool}",
        "the old one took {small} hours and the new one takes {small}",
        "it is {small} degrees outside and {small} in here",
        "the van does {small} miles to the gallon if you are lucky",
        "call him on four seven {digit} {digit} {digit} two",
        "bus number {small} goes at {small} minutes past",
        "they won {digit} {digit} in the end",
        "bay {digit} is free from {time}",
        "give it {small} newton metres and then a bit for the wife",
        "one two three lift",
        "was that {small} point {digit} or {big}",
        "order {small} teas and a coffee for {name}",
        "bag {small} crisps and a drink that was lunch",
        "there are {small} of them in the {place}",
        "we are on step {digit} of about {big}",
        "he read two point {digit} off the wrong side of the dial",
        "i need {small} minutes and then i am all yours",
        "the job before that had {small} bolts and {digit} were missing",
        "number {digit} was cracked right through on the one we did {time}",
    ),
    "small talk": (
        "did you watch the {sport} last night",
        "what are you having for {meal}",
        "my {relative} is getting married {time}",
        "it has rained every day since {time}",
        "i was up half the night with the {relative}",
        "are you going to the {sport} {time}",
        "{name} is off sick again",
        "the traffic on the ring road was {state} this morning",
        "did you hear that {name} got a new job",
        "we went to the coast {time} and it was lovely",
        "put the kettle on {name} i am parched",
        "whose turn is it to buy the {meal}",
        "i told my {relative} i would be home before {time}",
        "no i have not seen it and do not tell me how it ends",
        "that is what i said but nobody listens to me",
        "how is your {relative} getting on these days",
        "what words she used were not kind and i am wrong",
        "how long are you off for {time}",
        "where are we going for {meal} then",
        "time left me behind years ago {name}",
        "the dog ate my {relative}s {meal} off the table",
        "i am not saying it again you heard me the first time",
        "go back to bed i told the {relative} it is only {digit} in the morning",
        "which one did you like better the first or the second",
        "we are thinking of moving nearer to my {relative}",
        "oh come on it was never a penalty",
        "thanks {name} that is very kind of you",
        "see you {time} then and take care",
        "well you know how it is with {relative}s",
        "hold on a minute i have got the {relative} on the phone",
    ),
    "radio": (
        "and now the weather with {adjective} spells over the {region} and rain later",
        "the {body} said {time} that it would look into the matter again",
        "traffic is slow on the {region} road after a lorry lost its load of {goods}",
        "you are listening to the {adjective} sound of the {region}",
        "shares in makers of {goods} fell by {small} percent {time}",
        "the {sport} starts at {small} minutes past {digit} this evening",
        "a spokesman for the {body} declined to comment on the {adjective} report",
        "that was a {adjective} song from a {adjective} summer a long time ago",
        "police in the {region} are asking for witnesses after {goods} were stolen {time}",
        "coming up after the news we speak to a woman who gave up {goods} for a year",
        "the price of {goods} has risen for the {ordinal} month in a row",
        "call us now and tell us what you think about the {body}",
        "temperatures will reach {small} degrees in the {region} by {time}",
        "it is the {ordinal} time this year that the {body} has lost a vote",
        "engineers have found the cause of the {adjective} delays in the {region}",
        "she walked slowly along the {adjective} river and thought of the {region}",
        "there had been a house on that hill since before the {adjective} war",
        "he had never cared much for {goods} and he did not intend to begin now",
        "the old man looked at the sea for a long while and said nothing at all",
        "in the {region} they still tell the story of the {adjective} winter",
        "special offer on {goods} this week only at your {adjective} garden centre",
        "the minister will read a statement to the {body} {time}",
        "stand by for the {ordinal} part of our {adjective} quiz",
        "and the next caller on line {digit} is {name} from the {region}",
        "the library will close its doors for good {time} the {body} announced",
    ),
    "short": (
        "yeah",
        "okay {name}",
        "hang on",
        "cheers {name}",
        "what",
        "right then",
        "no way",
        "oh no",
        "got it",
        "what is that",
        "over there",
        "not now {name}",
        "next one please",
        "steady",
        "any tea left",
        "go on then {name}",
        "say when",
        "which {tool}",
        "what {part}",
        "that {part} again",
        "the {part}s",
        "my {tool}",
        "more {goods}",
        "{small} or so",
        "about {small}",
        "{digit} each",
        "just {digit} of them",
        "bags of time",
        "order order",
        "too tight",
        "turn it down",
        "noted",
        "resumed",
        "affirming nothing",
        "negatives only",
        "step back {name}",
        "stand up",
        "close it",
        "good morning {name}",
        "bless you",
        "{name} is {state}",
        "where is {name}",
        "how many {goods}",
        "{part} is {state} though",
    ),
    "near calls": (
        "bench tops get filthy in here",
        "bench needs a good clean {name}",
        "bench by the {place} is free {name}",
        "bench three had the {machine} {time}",
        "french {goods} again is it",
        "wrench please {name}",
        "wrench the {part} off then",
        "wrench torque is set for the {machine}",
        "bent {part} again",
        "bends like that are {state} by {time}",
        "quench it in the {place}",
        "clench your teeth and pull the {part}",
        "drench it in oil and leave it until {time}",
        "trench coat weather {time}",
        "the bench said no to the {sport} player",
        "ben chose the {part} for the {machine}",
        "ben just tightened the {part}",
        "men that age should not lift a {machine}",
        "been to see the {machine} have you",
        "branch office wants the {goods} {time}",
        "pinch the {part} not the hose",
        "a bench a step and a drum that is all there is",
        "bunch the {part}s up over there",
        "beach again this {time} for the {relative}",
    ),
}

_LISTS: dict[str, str] = {
    "tool": (
        "torque wrench|long screwdriver|ten millimetre socket|puller|feeler gauge|heat gun|"
        "big hammer|dial gauge|impact wrench|drain pan|ratchet|circlip pliers|grease gun|rag|torch"
    ),
    "part": (
        "oil seal|circlip|worm shaft|impeller|gasket|cover|bearing|pinion|o ring|drain plug|"
        "earth lead|housing|spring|valve|hose|flange|drum|bolt|key|bracket"
    ),
    "machine": (
        "gearbox|pump|winch|engine|compressor|tractor|trailer|lathe|fork lift|generator|mower"
    ),
    "place": (
        "bench|windowsill|shelf|top of the cabinet|back of the van|floor|trolley|other bay|drawer"
    ),
    "state": (
        "cracked|worn|leaking|seized|bent|terrible|fine|loose|missing|corroded|burnt|damp|"
        "clean as a whistle|scored to bits|fitted wrong|dreadful|perished"
    ),
    "name": "dave|sarah|tom|mister evans|karen|old bill|the new lad|maria|peter|the foreman",
    "time": (
        "yesterday|on tuesday|next week|this afternoon|last month|before christmas|"
        "tomorrow morning|at the weekend|in the spring|on friday night|after lunch|first thing"
    ),
    "sport": "football|cricket|racing|snooker|match|rugby|darts",
    "meal": "lunch|dinner|bacon rolls|tea|supper|fish and chips|biscuits",
    "relative": "sister|brother|wife|mother|baby|daughter|neighbour|cousin|uncle",
    "region": "north|south coast|west country|valley|islands|east|high street|old town",
    "adjective": "bright|long|quiet|golden|hard|strange|cold|famous|terrible|local|early",
    "body": "council|government|committee|company|court|union|school board|club",
    "goods": "timber|cheese|car parts|fish|copper pipe|flour|garden chairs|tyres|books",
    "ordinal": "second|third|fourth|fifth|tenth|last",
    "broke": "snapped|stripped|squealed|cracked",
    "digit": "one|two|three|four|five|six|seven|eight|nine",
    "small": (
        "ten|twelve|fourteen|fifteen|eighteen|twenty|twenty five|thirty|forty|forty one|fifty|"
        "sixty|seventy two|eighty|ninety"
    ),
    "big": "two hundred|nine hundred and fifty|four hundred|six thousand|eleven hundred",
}
_WORDS = {slot: words.split("|") for slot, words in _LISTS.items()}
_SLOT = re.compile(r"\{(\w+)\}")

NEAR_CALLS = "near calls"
"""What is nearly the usual call word, or begins with it: for who listens for that only."""
KINDS = tuple(kind for kind in _PATTERNS if kind != NEAR_CALLS)


def sentences(kind: str, chance: random.Random) -> Iterator[str]:
    """Sentences of this kind without end, none twice; every pattern comes before one comes again.

    It ends where two hundred tries in a row give nothing new.
    """
    said: set[str] = set()
    stale = 0
    while stale < 200:
        patterns = list(_PATTERNS[kind])
        chance.shuffle(patterns)
        for pattern in patterns:
            text = _SLOT.sub(lambda slot: chance.choice(_WORDS[slot[1]]), pattern)
            stale = stale + 1 if text in said else 0
            if text not in said:
                said.add(text)
                yield text


def _without_end(kind: str, chance: random.Random) -> Iterator[str]:
    while True:
        yield from sentences(kind, chance)


@dataclass(frozen=True, eq=False)
class Scene:
    """About a minute of sound in which nothing is for the assistant."""

    kind: str
    """"prose", "noise", or the kind of talk."""
    name: str
    sound: pcm.Pcm


Speak = Callable[[str, str, float], pcm.Samples]
"""Says a text in a voice, with a pause of so many seconds around it."""


def scenes(
    seconds: float,
    seed: int = 4,
    kinds: Sequence[str] = KINDS,
    speakers: Sequence[str] = tuple(voices.HELD_OUT),
    speak: Speak = voices.speak,
) -> Iterator[Scene]:
    """Scenes that last so long together: read prose, talk (some of it over noise), and noises.

    One in six is a noise alone, of the shop's or of things dropped and throats cleared; of the
    talk every third scene has a noise 10 or 15 dB under it. Voices and loudness change from scene
    to scene; no sentence comes twice until every one that was found has come.
    """
    chance = random.Random(seed)
    talking = {kind: _without_end(kind, chance) for kind in kinds}
    shop = list(noises.SHOP)
    alone = {"clatter": noises.clatter, "coughs": noises.coughs, **noises.SHOP}
    left = seconds
    for scene in _prose():
        if left <= 0:
            return
        left -= scene.sound.seconds
        yield scene
    number = 0
    while left > 0:
        rng = np.random.default_rng([seed, number])
        length = min(60.0, left)
        if number % 6 == 5:
            name = list(alone)[number // 6 % len(alone)]
            made = alone[name](int(length * pcm.RATE), rng)
            # From a quiet room's -60 dBFS to a loud one's -20.
            level = 10 ** chance.uniform(1.5, 3.5)
            samples = np.clip(np.round(made * level), -32768, 32767).astype(np.int16)
            scene = Scene("noise", name, pcm.Pcm(samples))
        else:
            kind = kinds[(number - number // 6) % len(kinds)]
            samples = _conversation(talking[kind], length, chance, speakers, speak)
            name = "quiet"
            if number % 3 == 1:
                name = chance.choice(shop)
                made = noises.SHOP[name](len(samples), rng)
                samples = noises.mix(samples, made, chance.choice((10.0, 15.0)))
            scene = Scene(kind, name, pcm.Pcm(samples))
        left -= scene.sound.seconds
        number += 1
        yield scene


def _conversation(
    said: Iterator[str],
    seconds: float,
    chance: random.Random,
    among: Sequence[str],
    speak: Speak,
) -> pcm.Samples:
    """Two voices in turn, or one, with pauses as people make them."""
    speakers = chance.sample(list(among), chance.choice((1, 2, 2)))
    loud = chance.uniform(0.3, 1.0)
    pieces: list[pcm.Samples] = []
    length, turn = 0, 0
    while length < seconds * pcm.RATE:
        text = next(said)
        if chance.random() < 0.6:
            turn += 1
        spoken = speak(text, speakers[turn % len(speakers)], chance.uniform(0.1, 0.8))
        pieces.append(np.round(spoken * loud).astype(np.int16))
        length += len(spoken)
    return np.concatenate(pieces)


def _prose() -> Iterator[Scene]:
    """What Debian's test data has: sentences of a novel, read by a volunteer."""
    for file in sorted(PROSE.glob("*.wav")):
        yield Scene("prose", file.stem, pcm.read(file))


@cache
def _murmur(voice: str) -> noises.Sound:
    """Half a minute of one voice talking without a pause."""
    chance = random.Random(voice)
    pieces: list[pcm.Samples] = []
    said = [sentences(kind, chance) for kind in ("small talk", "radio", "numbers")]
    while sum(map(len, pieces)) < 30 * pcm.RATE:
        pieces.append(voices.speak(next(said[len(pieces) % len(said)]), voice, 0.05))
    return np.concatenate(pieces).astype(np.float64)


def babble(length: int, rng: np.random.Generator) -> noises.Sound:
    """The held-out voices, all talking at once; root mean square of 1."""
    total = np.zeros(length)
    for voice in voices.HELD_OUT:
        murmur = _murmur(voice)
        start = int(rng.integers(len(murmur)))
        total += np.resize(np.roll(murmur, -start), length)
    return total / float(np.sqrt(np.mean(total**2)))
