/*
 * Traces: everything that goes into an adapter, and what it sends, as a text file (docs/traces.md): writer, reader, and
 * a player that gives an adapter the same input again and compares what it sends.
 */
#ifndef TRANSPORT_TRACE_H
#define TRANSPORT_TRACE_H

#include "model/memory.h"

#include <counterfoil/adapter.h>
#include <stdbool.h>

#define TRACE_FORMAT       1
#define TRACE_BYTES_MAX    4096 /* bytes of one record; the longest frame of an adapter */
#define TRACE_LINE_MAX     (3 * TRACE_BYTES_MAX + 128)
#define TRACE_SETTINGS_MAX 512
#define TRACE_DEVICE_MAX   63 /* bytes of a device key */
#define TRACE_MEMORY_MAX   64

struct trace_header {
    char adapter[17];
    char settings[TRACE_SETTINGS_MAX + 1]; /* "" = none */
    int32_t accept;                        /* CFOIL_ACCEPT_* at the start */
    bool captured;                         /* from a real port; else made by hand or by a simulator */
};

enum trace_mark {
    TRACE_OPEN = 1,    /* the adapter is opened; argument = CFOIL_ACCEPT_* */
    TRACE_LOST = 2,    /* the port was lost and the adapter closed; argument = CFOIL_E_PORT_* */
    TRACE_TICK = 3,    /* a step without bytes */
    TRACE_FROM = 4,    /* a step with bytes from the device */
    TRACE_TO = 5,      /* the adapter sent bytes to the device */
    TRACE_COMMAND = 6, /* command and argument */
    TRACE_MEMORY = 7   /* the adapter asked for a device's memory and got these bytes */
};

/* One record; the pointers are borrowed until the next one is read. */
struct trace_record {
    enum trace_mark mark;
    uint64_t time_us; /* since the start of the trace */
    int32_t command;  /* CFOIL_COMMAND_* */
    int32_t argument;
    const uint8_t *bytes;
    uint32_t length;
    const char *device;
};

/* ---- Writing ---- */

struct trace_writer;

/* CFOIL_OK, CFOIL_E_DATA_FILE (also when the file exists: none is ever overwritten), CFOIL_E_MEMORY. */
int32_t trace_writer_open(const struct memory *memory, const char *path, const struct trace_header *header,
                          struct trace_writer **writer, cfoil_error_info *error);

/* One line, handed to the system before it returns. CFOIL_OK, CFOIL_E_DATA_FILE; CFOIL_E_DATA_SIZE when the record is
 * larger than the format allows. */
int32_t trace_write(struct trace_writer *writer, const struct trace_record *record, cfoil_error_info *error);
void trace_writer_close(struct trace_writer *writer); /* NULL is harmless */

/* ---- Reading ---- */

struct trace_reader;

/* Opens and reads the header. CFOIL_OK, CFOIL_E_DATA_FILE, CFOIL_E_DATA_TRACE with error->line, CFOIL_E_MEMORY. */
int32_t trace_reader_open(const struct memory *memory, const char *path, struct trace_reader **reader,
                          cfoil_error_info *error);

/* The same for a text in memory (tests, fuzzing). The text stays the caller's and must outlive the reader. */
int32_t trace_reader_open_text(const struct memory *memory, const char *text, size_t length,
                               struct trace_reader **reader, cfoil_error_info *error);
const struct trace_header *trace_reader_header(const struct trace_reader *reader);

/* CFOIL_OK, CFOIL_E_PORT_ENDED after the last record, CFOIL_E_DATA_TRACE with error->line, CFOIL_E_DATA_FILE. */
int32_t trace_read(struct trace_reader *reader, struct trace_record *record, cfoil_error_info *error);
int32_t trace_reader_line(const struct trace_reader *reader); /* of the record read last */
void trace_reader_close(struct trace_reader *reader);         /* NULL is harmless */

/* ---- Playing ---- */

/* Who gets the input: a lane, or trace_replay(). The player calls these from trace_player_next(). */
struct trace_target {
    void *user;
    int32_t (*open)(void *user, int32_t accept, uint64_t now_us); /* CFOIL_OK or what went wrong */
    void (*lose)(void *user, int32_t result, uint64_t now_us);
    void (*step)(void *user, const uint8_t *bytes, uint32_t length, uint64_t now_us);
    void (*command)(void *user, int32_t command, int32_t argument, uint64_t now_us);
};

/* How the bytes of one `from` record are cut: each piece is one step at the record's time. */
enum trace_chunking { TRACE_WHOLE = 0, TRACE_SINGLE = 1, TRACE_RANDOM = 2 };

struct trace_player;

/* Takes the reader over, also on failure. */
int32_t trace_player_create(const struct memory *memory, struct trace_reader *reader, const struct trace_target *target,
                            enum trace_chunking chunking, uint64_t seed, struct trace_player **player,
                            cfoil_error_info *error);
const struct trace_header *trace_player_header(const struct trace_player *player);

/* Plays one input and compares what the adapter sent. CFOIL_OK, CFOIL_E_PORT_ENDED at the end, CFOIL_E_DATA_TRACE with
 * error->line where the trace is bad or the replay departs from it, or what the target's open() answered. */
int32_t trace_player_next(struct trace_player *player, cfoil_error_info *error);

/* The target tells what the adapter sent, in order. */
void trace_player_sent(struct trace_player *player, const uint8_t *bytes, uint32_t length);

/* The target asks what the adapter was given for a device's memory: false = the trace does not say. Copies at most
 * `capacity` bytes; *length is the whole. */
bool trace_player_memory(struct trace_player *player, const char *device, uint8_t *bytes, uint32_t capacity,
                         uint32_t *length);
void trace_player_destroy(struct trace_player *player); /* NULL is harmless */

/* ---- A bare adapter under a trace (tests) ---- */

/* What the adapter told while it was replayed; any may be NULL. */
struct trace_listener {
    void *user;
    void (*event)(void *user, const cfoil_adapter_event *event, uint64_t now_us);
    void (*state)(void *user, int32_t lane_state, int32_t result, const char *text, uint64_t now_us);
    void (*store)(void *user, const char *device, const uint8_t *bytes, uint32_t length);
};

/* Replays a whole trace: CFOIL_OK at its end, else as trace_player_next(). Takes the reader over. */
int32_t trace_replay(const struct memory *memory, const cfoil_adapter *adapter, struct trace_reader *reader,
                     enum trace_chunking chunking, uint64_t seed, const struct trace_listener *listener,
                     cfoil_error_info *error);

#endif
