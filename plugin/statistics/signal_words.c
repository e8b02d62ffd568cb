/*
 * What signals say, in English. See signals.h. Common practice, no source, unless it says otherwise.
 */
#include "statistics/signals.h"

const struct signal_words signal_words[SIGNAL_KINDS] = {
    [SIGNAL_SENSOR] =
        {"signal.sensor",
         "One machine refuses more notes than before, and not of one value only: a sensor that has drifted, or dirt.",
         "Clean this machine's sensors and its note path, then compare with the other lanes; if it goes on, ask "
         "for service."},
    [SIGNAL_MACHINE_NOTE] =
        {"signal.machine_note",
         "One machine refuses more notes of one value than before: its data set, a worn batch of notes, or "
         "what is paid at that place.",
         "Try some notes of that value that other lanes take; if this machine alone refuses them, look at its "
         "data set."},
    [SIGNAL_FEEDING] =
        {"signal.feeding",
         "One machine draws in notes worse than before: folds, jams and transport. It says nothing about the notes.",
         "Clean belts and rollers, look for scraps of paper, and show how notes are put in flat."},
    [SIGNAL_NOTES] =
        {"signal.notes",
         "Several machines refuse more notes of one value: a new series that their data sets do not know, a worn "
         "batch, or doubtful notes in circulation here.",
         "Ask whether a new series came out and whether the machines' data sets are up to date; check refused notes by "
         "hand as ever."},
    [SIGNAL_RUN] =
        {"signal.run",
         "More notes of one value were refused within an hour than chance explains: it may be a worn batch, or that "
         "doubtful notes are being paid in here.",
         "Tell the staff to check notes of that value by hand and to keep the records complete. Accuse nobody: a "
         "customer "
         "who brings such a note is most likely innocent."},
};
