"""Fitting planned lines to a body, a machine and a slot: the one definition of what the best fitted program is.

**What may become of a line** (`candidates`, `forms`, `pooled`)

* *Its own row in a form of its own*: as planned; or, where the planned form has a demand to avoid, or one to adapt
  that another form takes out, in the usual regression or down one step of its ladder that is a regression and names
  no other row. A demand is taken out only when the row calls it removable. Of the forms without a demand to avoid
  those with the fewest demands left to adapt are on offer. A line with a demand left to adapt counts as adapted.
* *A stand-in*, only when the line is **out**: when no form of its row may be done here, or its prerequisites can
  never be met. Any row of the repertoire that is not planned, whose apparatus is in the room, of equal or lower
  level, that a ladder names in its place or that is of the same family (nearness 1), of the same aim and position (2)
  or of the same aim (3), and that may itself be done. A line that is not out is done in a form of its own or left
  out: time alone swaps nothing.
* *Nothing*: it is left out.

**What must hold**

* No demand to avoid in the form done; the level within the client's ceiling on that kind of apparatus; on the
  reformer a set of springs within tolerance of the count; the state of the machine safe for that form (V7).
* Prerequisites (V1): unless the row is owned or its prerequisites waived, one row of each group is owned or done
  earlier in this program in its own line (a stand-in prepares for nothing). A group of rows that are all blocked for
  this client locks her out of nothing: the line stays, and a waiver is asked for.
* Nothing stands in twice, and of one pool one part at most. Two parts of one exercise do not come to stand next to
  each other out of order or with springs rising, unless the template itself has put them side by side.
* Pools: with all parts done the repetitions are shared; with the recipient out they go back to the donors; with a
  donor out nothing is shared and that is said. A count that would leave a donor under its minimum is lowered, and
  where no count is left the recipient is left out.
* Arrival, lines and close together within the slot (times the share at which the studio warns). Deciseconds, each
  line rounded up.

**What is asked for, each goal as far as the ones before allow** (`result.Cost`)

1. lines not as planned; 2. lines not in a form of their own; 3. lines left out; 4. the nearness of stand-ins, summed;
5. aims of the template that no line serves; 6. what is short of V9: extension rows missing for each four of flexion,
and flexion rows beyond three running; 7. changes of springs, then of set-up, from each line done to the next; 8.
deciseconds of the slot left empty. Between programs that cost the same the search's own order decides, always in the
same way.

**How it is found** (`solve`, `search`). The goals become one whole number (`weights`), the lines steps with choices,
the conditions between far-off lines bits (`puzzle`). A sweep that leaves the far-off conditions aside bounds what is
still to be paid, with prices on stand-ins that several lines want (`relax`, `prices`, `bounds`). A label search then
keeps of all ways to a step only those that no other dominates and that may still come below the best known. First
nothing is left out; then as few lines as time alone asks; then as the four hard goals need by themselves. Where time
binds, the seconds are filled last, among all ways of equal cost (`fill`).

The answer is proven best unless the search loses patience. What makes proving too dear is many lines that are out and
want the same few stand-ins, together with goals 6 to 8: in a plan of sixty lines with twenty or more out, or in a slot
that is too short for it, so many swaps are alike in everything but changes of set-up and seconds that the bounds do not
part them. Then `is_proven` is false, `bound` is the least it could cost, and the pages may say so.
"""

from programming.rules.fitting.fitter import fit
from programming.rules.fitting.proof import unproven_words
from programming.rules.fitting.result import LEVEL_ORDER, Cost, FittedLine, FittedProgram, LimitFact, Rule, Why

__all__ = ["LEVEL_ORDER", "Cost", "FittedLine", "FittedProgram", "LimitFact", "Rule", "Why", "fit", "unproven_words"]
