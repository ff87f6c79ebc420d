"""One shared plan for two to six people: the fewest separate instructions, the teacher's eye kept at every minute.

**What is given.** People in a fixed order (1 to 6) and shared lines in a fixed order. For each line and person the
options she has (`Option`): the forms this body may do of the planned exercise, or the exercises that may stand in for
it. Leaving the line out is always one more option. No exercise may be offered to one person at two lines unless the
plan names it twice; whoever prepares the options sees to it (`offers`). `stock` says how many of each shared item
there are: boxes, poles, tower bars, chairs.

**What is shared.** The lesson goes in rounds. In a round each person begins her next line or waits; nobody skips a line
(to leave one out is to rest through it) and nobody is ever more than two lines ahead of anybody else. All who begin in
a round begin together, and the next round begins when the longest of them is done; who is done sooner goes on a little
longer or rests.

**What may never be.** In a round the supervision figures of all people add up to at most the number of people and two,
with at most one 3; whoever waits or rests counts as a 1. As a whole round counts, the rule holds at every minute of it.
In a round no more of a shared item is used than there is.

**What an instruction costs.** In a round the teacher says each different form of each line once, to all who begin it;
to leave a line out is a form too. Every line has to be said once in any case: the *separate instructions* are those
above one a line. So a deviation costs one instruction however many share it, and so does every later start.

**What is sought**, each as small as the ones before allow: (1) lines left out, added up over the people, (2) separate
instructions, (3) lines not as planned, (4) the nearness of stand-ins, added up (rule 14: 1 family to 3 aim), (5)
rounds, so that people start together and wait for nobody without need, (6) deciseconds of the whole. Among equals the
option that was named first goes to the person that was named first, so that the answer is always the same.

**How it is solved, exactly.** The people who begin a line in one round are a *batch*. Goals 1 to 4 are sums over
batches. A batch that keeps the rules while all others wait can be taught alone, so the least of each line, over all
ways to part the people into such batches, is a bound for every plan; and teaching line after line, batch after batch,
in that parting reaches it for all lines at once. So the cheapest plans are those that use, at every line, only batches
of a cheapest parting (`batches`, a sum over subsets of people). Among them `search` finds the fewest rounds and then
the shortest by a best-first walk over how far each person has come, led by bounds that never overstate what is to come
(the lines of who has most to do, the eyes still needed, the time of who needs longest); that people stay within two
lines keeps it small.

The slot is not part of it: which shared lines to leave out for everybody is the teacher's choice, and the length is
said. Nor is V1 asked again here: where the group makes somebody leave out a line that another one of hers asks for
first, the report on her own program says so.
"""

from programming.rules.groups.joining import NotYet, barred, not_yet
from programming.rules.groups.offers import Offer, Offers, Person, left_out, offers, options_of
from programming.rules.groups.parts import MOST_AHEAD, MOST_PEOPLE, Begun, GroupCost, Option, Round, Shared
from programming.rules.groups.search import shared_plan

__all__ = [
    "MOST_AHEAD",
    "MOST_PEOPLE",
    "Begun",
    "GroupCost",
    "NotYet",
    "Offer",
    "Offers",
    "Option",
    "Person",
    "Round",
    "Shared",
    "barred",
    "left_out",
    "not_yet",
    "offers",
    "options_of",
    "shared_plan",
]
