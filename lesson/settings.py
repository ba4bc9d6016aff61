"""Every tunable number: its unit, what it does, how it was chosen.

A number that comes from a standard stands beside the code that obeys the standard, not here.
"""

from __future__ import annotations

from typing import Final

# --------------------------------------------------------------------------------------------------------------- read

MAX_FILE_BYTES: Final = 64 * 1024 * 1024
"""Bytes. A larger talk file is refused. An indented recogniser JSON takes 185 bytes a word, so this is about 340
thousand words, 38 hours of speech without a pause; reading such a file stayed below 640 MB of memory."""

MAX_WORDS: Final = 500_000
"""Words. A talk of more is refused. 55 hours of speech at `SPEECH_WORDS_PER_MINUTE`, ten times the longest course
recording we could imagine being converted at once; later stages grow in proportion."""

MAX_TALK_MS: Final = 1000 * 60 * 60 * 1000
"""Milliseconds (1000 hours). A time beyond it is a slip of the file and is estimated from its neighbours. More than
any talk within MAX_WORDS can last."""

SPEECH_WORDS_PER_MINUTE: Final = 150
"""Words per minute. Gives an end to words after which the file states no time. A usual rate of English lectures
(common practice, no source); it only places the end of the last block."""

MAX_CONTROL_SHARE: Final = 0.01
"""Share of bytes. A file with more control characters than this is binary. Transcripts have none; in evenly spread
bytes, as compressed files have them, 26 of 256 codes are control characters (10 %)."""

MAX_SECONDS_PER_WORD: Final = 50
"""Seconds. Recogniser JSON whose times are all whole numbers and give each word more than this is read as
milliseconds. A recogniser's window is 30 s, so even a window with a single word stays below; a word of a quarter
of a second counted in milliseconds reads as 250."""

SHOWN_CHARACTERS: Final = 40
"""Characters. Longest quotation from the file in a one-line message."""

# ------------------------------------------------------------------------------------------------------------- decode

SHARED: Final = 0.3
"""0..1, how much of the logarithm of the sum over all that a phrase may do is taken from the score of each. The weights
are learned on true paths, phrase by phrase, which leaves open how phrases of one hypothesis count against those of
another. At 0 a wrong hypothesis gains by every chain of moves that happens to fit it; at 1 it loses nothing where no
phrase fits any more ("label bias", Lafferty, McCallum, Pereira, ICML 2001). On seventeen talks the tables had not seen,
0.3 gives trees better by 0.01 to 0.02 than 0, and 0.6 worse."""

WRITE_ABOVE: Final = 0.15
"""Confidence 0..1 below which a line is not written: its words stay in the text, and its beginning is a question. On
seventeen talks the tables had not seen, one in five of the moves less sure than this was right on a good recogniser's
words. Anything from 0.1 to 0.2 changes the F1 of the trees by less than 0.02; at 0.3 exact words lose 0.01 and a good
recogniser's 0.03."""

FLAG_BELOW: Final = 0.93
"""Confidence 0..1 below which a written move is flagged for the teacher. On seventeen talks the tables had not seen,
about one in eighty of the moves written is wrong and surer than this, on exact words and on a good recogniser's."""

ASK_BELOW: Final = 0.6
"""Confidence 0..1 of a single step below which a question is asked where it begins, and of a move below which nothing
is made of what was said of it. Set by hand: somewhat surer than a coin."""

CLAIM_DENIED: Final = 0.85
"""Factor, 0..1, on the confidence of a move of which something false was said, and of those after it. Low enough that
such a move is flagged, however well it was heard, and high enough that of a sure one the speaker is still told
(`ASK_BELOW`)."""

# -------------------------------------------------------------------------------------------------------- corrections

MAX_CORRECTIONS_BYTES: Final = 8 * 1024 * 1024
"""Bytes. A larger file of corrections is refused; a correction takes about 150, so this is some fifty thousand."""

ANCHOR_WORDS: Final = 3
"""Words. Neighbours kept on each side of corrected words. Set by hand: a move and its answer are three or four."""

ANCHOR_NEAR_MS: Final = 5_000
"""Milliseconds. Words this far from where they stood are as good as anywhere in the talk. Captions and recognisers give
many words only the time of their block, which may be several seconds long."""

ANCHOR_NEAR_WORDS: Final = 12
"""Words. The same for talks without times: `ANCHOR_NEAR_MS` at `SPEECH_WORDS_PER_MINUTE`."""

ANCHOR_FAR: Final = 0.3
"""Likeness, 0..1, that words lose when they are as far as that from where they stood."""

ANCHOR_UNKNOWN: Final = 0.6
"""Factor on the likeness of words whose neighbours are not known, as in a file written by hand: they must be nearly the
same words at nearly the same time."""

ANCHOR_CHANCE: Final = 0.4
"""Likeness, 0..1, that three words have with three others by chance, and that therefore counts as none."""

ANCHOR_ALIKE: Final = 0.44
"""Likeness, 0..1, below which a correction is lost. Chosen on the marks of the samples, carried from recogniser A to B
and back with both on one clock: of 1444 marks 0.44 puts 1378 right, 2 wrong and loses the rest; 0.50 loses 37 more."""

ANCHOR_SURE: Final = 0.8
"""Likeness, 0..1, of words and neighbours together, from which words are found beyond doubt wherever they stand."""

ANCHOR_FAR_ALIKE: Final = 0.9
"""Likeness, 0..1, of the words alone, from which a place far from where they stood is considered at all."""

ANCHOR_TIE: Final = 0.01
"""Difference of likeness below which two places are equally like, and the correction is lost."""

# -------------------------------------------------------------------------------------------------------------- check

SURE_OF_LINE = 0.3
SURE_OF_CLAIM = 0.45
"""Confidence 0..1 of the least sure move of a line. Below it `lesson check` reports no fault on the line, or no false
claim: the program has then lost the thread, not the speaker. Set on seventeen talks of our own, freely spoken, where
this silenced 22 of 60 false alarms, and on the corpus of planted faults, of which it lost none."""

# ------------------------------------------------------------------------------------------------------------- engine

ENGINE_NODES: Final = 100_000
"""Positions a UCI engine may look at for one answer. A free engine on one core of a common machine takes about a tenth
of a second for them (measured) and does not miss what a club player is told; the bound is in nodes, not in time, so
that the same engine gives the same answer on any machine."""

ENGINE_HASH_MB: Final = 16
"""Megabytes of the engine's memory of positions, which 100 000 of them do not fill."""

ENGINE_POSITION_S: Final = 10.0
"""Seconds for one answer, the start and the end included: a hundred times what it takes. Set by hand."""

ENGINE_RUN_S: Final = 300.0
"""Seconds for all answers of one run, however many talks it has. Set by hand: a tea break."""

ENGINE_QUIT_S: Final = 2.0
"""Seconds in which an engine may leave when told so, before it is ended. Set by hand."""

ENGINE_ANSWER_BYTES: Final = 8 * 1024 * 1024
"""Bytes an engine may say for one answer; a free engine says about two thousand (measured), a broken one for ever."""

VERDICT_BOUNDS: Final[dict[str, tuple[int | None, int | None]]] = {
    "equal": (-150, 150),
    "quiet": (-150, 150),
    "active": (-150, 150),
    "slight": (-30, 250),
    "better": (10, None),
    "winning": (150, None),
    "crushing": (250, None),
}
"""Centipawns, least and most, between which an evaluation fits the words, from the view of the side they name. There is
no standard for it; set by hand and wide, so that only a plain contradiction is reported."""

BLUNDER_DROP_CP: Final = 150
"""Centipawns an advised move must lose against the best one to be reported: more than a pawn and its compensation. Set
by hand."""

BLUNDER_CEILING_CP: Final = 300
"""Centipawns. A move after which its side still stands better than this has lost nothing that matters; advantages are
also compared only up to `BLUNDER_SCALE_CP`. Set by hand: three pawns, a piece, win without more."""

BLUNDER_SCALE_CP: Final = 1000
"""Centipawns beyond which one advantage is as good as another, and as a mate. Set by hand."""

SIDE_GIVEN: Final = 3.0
"""How many times as much a move of the wrong side counts against a reading where the teacher said who "we" are as where
the talk says "White". Set by hand: a person's word, but people say "we" of both sides at times."""

PREPARED_WEIGHTS: Final[dict[str, float]] = {
    "prepared+": 3.0,
    "prepared-": -3.0,
    "f:prepared+": 6.0,
}
"""What it weighs, in -ln p, that a move said, or (f:) left unsaid, is in the teacher's own analysis of the position, or
another one is. No talk with such a file is at hand to learn from; set by hand on five talks as a recogniser heard them,
with the true tree and as many moves again as the analysis (`python -m tests.accuracy --prepared`)."""

PREPARED_GAP: Final = 4
"""Moves in a row that may be missing where the talk follows the teacher's own analysis. Set by hand."""

PREPARED_STEP: Final = 1.0
"""What each such move after the first costs, in -ln p. Set by hand."""
