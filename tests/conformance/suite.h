/*
 * What is a conformance case, what does it work with, and how does it say what it found?
 */
#ifndef CONFORMANCE_SUITE_H
#define CONFORMANCE_SUITE_H

#include <counterfoil/adapter.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#define MS(milliseconds) (UINT64_C(1000) * (uint64_t)(milliseconds))

#if defined(__GNUC__)
#define SUITE_FORMAT(position, first) __attribute__((format(printf, position, first)))
#else
#define SUITE_FORMAT(position, first)
#endif

enum { CASES_MAX = 160, TEXT_MAX = 640, PATH_SIZE = 320 };

struct options {
    const char *adapter;
    const char *port;
    const char *description;
    const char *wire;         /* the protocol that a described adapter speaks, NULL = its description alone */
    const char *adapter_file; /* a shared library with the adapter in it */
    const char *settings;
    const char *cases; /* a glob, NULL = all */
    const char *junit;
    const char *trace_folder;
    bool list;
    bool tap;
    bool attended;
    bool notes_come; /* the other end feeds notes by itself */
    uint32_t seconds;
    uint32_t latency_ms; /* what the way between us and the device may add */
};

/* What one run learns and later cases use. */
struct description;
struct suite {
    const struct options *options;
    const cfoil_adapter *loaded;           /* the table in --adapter-file, or NULL */
    struct line *line;                     /* the port, while wire cases run */
    const struct description *description; /* of --description, or NULL */
    bool silent;                           /* the device did not answer at all */
    bool foreign;                          /* it is not the one described, or what it says cannot be parted */
    bool odd;                              /* a number of pulses that no note has */
    char settings[64];                     /* how it answered: "address=40;check=sum", or "" */
    char folder[64];                       /* for traces of the adapter cases when none is wanted */
    char last_trace[PATH_SIZE];            /* the recording of the latest adapter case with notes in it */
};

enum result { RESULT_PASSED, RESULT_SKIPPED, RESULT_FAILED };

struct trial;

enum side { SIDE_WIRE, SIDE_ADAPTER };

struct conformance_case {
    const char *id;
    enum side side;
    const char *clause; /* the rule, and the document it is from */
    const char *trust;  /* several, one, memory, practice, ours: docs/conformance.md */
    const char *proves;
    const char *tester; /* what a person must do in an attended run; NULL = nothing */
    void (*run)(struct trial *trial);
};

/* One case being tried. */
struct trial {
    const struct conformance_case *item;
    struct suite *suite;
    const struct options *options;
    enum result result;
    char settings[512]; /* the settings under which the case can be repeated */
    char why[TEXT_MAX];
    char figures[TEXT_MAX];
    char evidence[PATH_SIZE]; /* path of the trace that reproduces it, or "" */
    uint64_t took_us;
};

/* Each table ends with a NULL id. */
extern const struct conformance_case cctalk_framing_cases[];
extern const struct conformance_case cctalk_timing_cases[];
extern const struct conformance_case cctalk_identity_cases[];
extern const struct conformance_case cctalk_notes_cases[];
extern const struct conformance_case cctalk_inhibit_cases[];
extern const struct conformance_case cctalk_events_cases[];
extern const struct conformance_case cctalk_escrow_cases[];
extern const struct conformance_case cctalk_reset_cases[];
extern const struct conformance_case mdb_framing_cases[];
extern const struct conformance_case mdb_money_cases[];
extern const struct conformance_case pulse_cases[];
extern const struct conformance_case described_asked_cases[];
extern const struct conformance_case described_notes_cases[];
extern const struct conformance_case described_talk_cases[];
extern const struct conformance_case adapter_cases[];

/* False = the case has failed; the first reason stays. */
bool expect(struct trial *trial, bool good, const char *format, ...) SUITE_FORMAT(3, 4);
void skip(struct trial *trial, const char *format, ...) SUITE_FORMAT(2, 3);
/* A measured value or a remark, told whatever the result. */
void figure(struct trial *trial, const char *format, ...) SUITE_FORMAT(2, 3);

/* False, and the case is skipped: nobody is there to feed notes. Else asks the tester. */
bool note_ask(struct trial *trial, const char *wish);

/* Ctrl-C was pressed: cases end at their next wait. */
bool stop_asked(void);

void hex_text(const uint8_t *bytes, size_t length, char *text, size_t capacity);

#endif
