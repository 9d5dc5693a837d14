"""Which letters the fonts of printed sheets have: those that come with Setwright's libraries.

Known without loading them, so that a check can tell. `tests.covered` makes the table, and
`tests/test_lettered.py` holds it to what the library prints.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from functools import cache
from typing import Final

RANGES: Final = """
a1-ac ae-33f 342 345-373 375-377 37a-37d 37f 384-386 388-38a 38c 38e-3a1 3a3-4ff 510-513
51a-51d 531-556 559-58a 58d-58f 591-5c7 5d0-5ea 5ef-5f4 606-60c 615 61b 61f 621-63a
640-655 65a 660-66d 674 679-67b 67e-680 683-684 686-687 691 698 6a4 6a9 6af 6be 6cc
6f0-6f9 900-957 960-97f e3f e81-e82 e84 e87-e88 e8a e8d e94-e97 e99-e9f ea1-ea3 ea5 ea7
eaa-eab ead-eb9 ebb-ebc ec8-ecd 10d0-10ff 115f-1160 13a0-13f5 13f8-13fd 17b4-17b5 17c1-17c3
180b-180d 180f 1ab0-1ace 1d00-1f15 1f18-1f1d 1f20-1f45 1f48-1f4d 1f50-1f57 1f59 1f5b 1f5d
1f5f-1f70 1f72 1f74 1f76 1f78 1f7a 1f7c 1f80-1fb4 1fb6-1fba 1fbc-1fbd 1fbf-1fc4 1fc6-1fc8 1fca
1fcc-1fd2 1fd6-1fda 1fdd-1fe2 1fe4-1fea 1fec-1fed 1ff2-1ff4 1ff6-1ff8 1ffa 1ffc 1ffe 2010-2027
2030-2040 2042 2044-2052 2054-205e 2070-2071 2074-208e 2090-209c 20a0-20c0 20d0-20f0 2100-211e
2120 2122 2124 2127-2129 212c-2184 2189 2190-2328 232b-23ff 2422-2423 2460-262f 2638-268b
2690-269c 26a0-26a7 26aa-26b2 2701-2704 2706-2709 270c-2727 2729-274b 274d 274f-2752 2756
2758-275e 2761-277f 2794 2798-27af 27b1-2adb 2add-2b73 2b76-2b95 2b97-2bff 2c60-2cf3 2cf9-2cff
2e02-2e05 2e08-2e0a 2e17-2e18 2e1f 2e22-2e25 2e2e 2e3a-2e3b 3012 3016-3017 301a-301b 302e-3030
3036 306e 3164 a46a-a46b a640-a641 a648-a649 a656-a657 a708-a716 a71b-a727 a72d a730 a735 a765
a789-a78e a790-a791 a793 a7aa a7f8-a7f9 ab52 ab66 ab70-abbf fb00-fb06 fb13-fb17 fb1e fb20-fb29
fb4f fb52-fb81 fb8a-fb95 fb9e-fb9f fbaa-fbad fbe8-fbe9 fbfc-fbff fe00-fe0f fe20-fe2f fe66
fe70-fe74 fe76-fefc ffa0 fffc-fffd 10140-1018e 102e0-102fb 1d106-1d107 1d400-1d454 1d456-1d49c
1d49e-1d49f 1d4a2 1d4a5-1d4a6 1d4a9-1d4ac 1d4ae-1d4b9 1d4bb 1d4bd-1d4c3 1d4c5-1d505
1d507-1d50a 1d50d-1d514 1d516-1d51c 1d51e-1d539 1d53b-1d53e 1d540-1d544 1d546 1d54a-1d550
1d552-1d6a5 1d6a8-1d7cb 1d7ce-1d7ff 1ee00-1ee03 1ee05-1ee1f 1ee21-1ee22 1ee24 1ee27
1ee29-1ee32 1ee34-1ee37 1ee39 1ee3b 1ee42 1ee47 1ee49 1ee4b 1ee4d-1ee4f 1ee51-1ee52 1ee54
1ee57 1ee59 1ee5b 1ee5d 1ee5f 1ee61-1ee62 1ee64 1ee67-1ee6a 1ee6c-1ee72 1ee74-1ee77
1ee79-1ee7c 1ee7e 1ee80-1ee89 1ee8b-1ee9b 1eea1-1eea3 1eea5-1eea9 1eeab-1eebb 1eef0-1eef1
1f12f 1f16a-1f16b 1f6d1 1f780-1f7d8 1f7e0-1f7eb 1f800-1f80b 1f810-1f847 1f850-1f859
1f860-1f887 1f890-1f8ad 1f8b0-1f8b1 e0100-e01ef
"""
"""First and last of the letters that they have, as hexadecimal numbers, beyond ASCII."""


def lacking(text: str) -> tuple[str, ...]:
    """Return the letters of ``text`` that the fonts lack, each once, in the order of the text.

    Marks count with their letters (NFC, UAX #15). What is never printed as it stands, such as
    controls, lacks nothing: sheets show it escaped.
    """
    if text.isascii():
        return ()
    whole = unicodedata.normalize("NFC", text)
    return tuple(dict.fromkeys(one for one in whole if not (one.isascii() or _has(one))))


def _has(letter: str) -> bool:
    firsts, lasts = _table()
    at = bisect_right(firsts, ord(letter)) - 1
    return (at >= 0 and ord(letter) <= lasts[at]) or letter.isspace() or not letter.isprintable()


@cache
def _table() -> tuple[list[int], list[int]]:
    pairs = [word.partition("-") for word in RANGES.split()]
    firsts = [int(first, 16) for first, _, _ in pairs]
    return firsts, [int(last or first, 16) for first, _, last in pairs]
