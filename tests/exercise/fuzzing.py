"""Bad scores of every format, made from a seed: sound ones with bytes, numbers, lines and elements changed."""

import io
import random
import re
import zipfile
from collections.abc import Callable

NOTES = b"exercise: Orla\nmode: D dorian\ntime: 2/2\nbars: 3\nupper r/2 A4 | B4~ B4/4 C#5 | D5/1\ncantus D4/1 E4 D4\n"
KERN = b"""!!!OTL: Morning
**kern\t**kern\t**text
*I"low\t*I"top\t*
*clefF4\t*clefG2\t*
*k[b-]\t*k[b-]\t*
*M2/2\t*M2/2\t*
=1\t=1\t=1
1G\t2g\tKy
.\t2a\t.
=2\t=2\t=2
*\t*^\t*
1A\t[1b-\t2dd\t.
.\t.\t2ee\t.
*\t*v\t*v\t*
=3:|!\t=3:|!\t=3:|!
1G\t2b-]\t.
.\t4.gL\t.
.\t8aJ\t.
==\t==\t==
*-\t*-\t*-
"""
ABC = b"""%abc-2.1
X:1
T:First
M:2/2
L:1/2
%%score (S A)
V:S name="upper" clef=treble-8
V:A nm="cantus"
K:Ddor
V:S
A>B | {g}^c (3d/e/f/ | [V:A] D2 | E2 |]
[V:S] d2 |] "text" !trill! z2 |
[V:A] Z2 |]
X:2
M:3/4
L:1/4
K:G
d e f | g3 :|
"""
_NOTE = (
    "<note><pitch><step>{}</step><alter>1</alter><octave>{}</octave></pitch><duration>{}</duration><tie type='start'/>"
    "<voice>{}</voice><type>half</type><staff>1</staff></note>"
)
_MEASURE = (
    "<measure number='{0}'><attributes><divisions>4</divisions><key><fifths>-1</fifths><mode>dorian</mode></key><time>"
    "<beats>2</beats><beat-type>2</beat-type></time><clef><sign>G</sign><line>2</line></clef><transpose><diatonic>-1"
    "</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    + _NOTE.format("A", 4, 8, 1) * 2
    + "<backup><duration>16</duration></backup><forward><duration>8</duration></forward>"
    + _NOTE.format("D", 4, 8, 2).replace("<note>", "<note><!-- {0} -->")
    + "<barline><bar-style>light-light</bar-style></barline></measure>"
)
MUSICXML = (
    "<?xml version='1.0' encoding='UTF-8'?><score-partwise version='4.0'><movement-title>Dawn</movement-title>"
    "<part-list><score-part id='P1'><part-name>upper</part-name></score-part></part-list><part id='P1'>"
    + "".join(_MEASURE.format(number) for number in range(1, 5))
    + "</part></score-partwise>"
).encode()
MEI = b"""<?xml version="1.0"?><mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score><scoreDef
meter.count="2" meter.unit="2" keysig="1f"><staffGrp><staffDef n="1" label="upper" clef.shape="G" clef.line="2"/>
<staffDef n="2"><label>cantus</label><clef shape="F" line="4"/></staffDef></staffGrp></scoreDef><section><measure n="1">
<staff n="1"><layer n="1"><note xml:id="a" pname="a" oct="4" dur="2" dots="1" tie="i"/><tuplet num="3" numbase="2">
<note pname="b" oct="4" dur="8" accid.ges="f"/><rest dur="8"/><note pname="c" oct="5" dur="8"><accid accid="s"/></note>
</tuplet></layer>
<layer n="2"><mRest/></layer></staff><staff n="2"><layer n="1"><note pname="d" oct="3" dur="1"/></layer></staff>
<tie startid="#a" endid="#b"/></measure><measure n="2" right="rptend"><staff n="1"><layer n="1"><note pname="a"
oct="4" dur="1"/></layer></staff></measure></section></score></mdiv></body></music></mei>
"""


def _midi() -> bytes:
    track = b"\0\xff\x03\x05upper\0\xff\x58\x04\2\1\x18\x08"
    track += b"".join(bytes([0, 0x90, key, 64, 0x83, 0x60, 0x80, key, 0]) for key in (69, 71, 72, 74)) + b"\0\xff\x2f\0"
    chunk = b"MTrk" + len(track).to_bytes(4, "big") + track
    return b"MThd\0\0\0\6\0\1\0\2\1\xe0" + chunk * 2


def _compressed(score: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        named = b"<container><rootfiles><rootfile full-path='a.xml'/></rootfiles></container>"
        archive.writestr("META-INF/container.xml", named)
        archive.writestr("a.xml", score)
    return buffer.getvalue()


SOUND = {
    ".notes": NOTES, ".musicxml": MUSICXML, ".mxl": _compressed(MUSICXML), ".mei": MEI, ".krn": KERN, ".abc": ABC,
    ".mid": _midi(),
}  # fmt: skip
_NUMBERS = [b"0", b"-1", b"1", b"7", b"64", b"999", b"1000", b"99999", b"1000000000", b"9" * 30, b"1e9", b"0.5",
            b"nan", b"3/2", b"1/0", b"", b"\xd9\xa3", b"00000000000001"]  # fmt: skip
_TOKENS = [b"\0", b"\xff\xfe", b"<", b">", b"&amp;", b"&#0;", b"\t", b"\n", b"*^", b"*v", b"=", b"[", b"]", b"(9",
           b"Z999", b"|", b":|", b"{", b'"', b"~", b"/", b"/64..", b"\x1b[31m", b"<chord/>", b"<grace/>", b"d999",
           b"&"]  # fmt: skip


def changed(data: bytes, chance: random.Random) -> bytes:
    """The file with a few changes."""
    for _ in range(chance.randint(1, 4)):
        data = chance.choice(_CHANGES)(data, chance)
    return data


def bad_score(suffix: str, chance: random.Random) -> bytes:
    """A bad file of a format; a compressed one is bad inside or outside."""
    if suffix == ".mxl" and chance.random() < 0.7:
        return _compressed(changed(MUSICXML, chance))
    return changed(SOUND[suffix], chance)


def _put_token(data: bytes, chance: random.Random) -> bytes:
    at = chance.randint(0, len(data))
    return data[:at] + chance.choice(_TOKENS) * chance.choice([1, 1, 1, 2, 50, 3000]) + data[at:]


def _change_number(data: bytes, chance: random.Random) -> bytes:
    found = list(re.finditer(rb"\d+", data))
    if not found:
        return data
    one = chance.choice(found)
    return data[: one.start()] + chance.choice(_NUMBERS) + data[one.end() :]


def _cut(data: bytes, chance: random.Random) -> bytes:
    one, other = sorted(chance.randint(0, len(data)) for _ in range(2))
    return data[:one] + data[other:] if chance.random() < 0.7 else data[:other]


def _repeat(data: bytes, chance: random.Random) -> bytes:
    one, other = sorted(chance.randint(0, len(data)) for _ in range(2))
    times = min(chance.choice([2, 2, 10, 1000, 20_000]), 400_000 // (other - one + 1) + 2)
    return data[:other] + data[one:other] * times + data[other:]


def _change_bytes(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.randint(1, 5)):
        if changed:
            changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _swap_lines(data: bytes, chance: random.Random) -> bytes:
    parts = re.split(rb"(?<=[\n>])", data)
    one, other = chance.randrange(len(parts)), chance.randrange(len(parts))
    parts[one], parts[other] = parts[other], parts[one]
    return b"".join(parts)


_CHANGES: list[Callable[[bytes, random.Random], bytes]] = [
    _put_token, _change_number, _change_number, _cut, _repeat, _change_bytes, _swap_lines,
]  # fmt: skip
