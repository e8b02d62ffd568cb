/*
 * The port as wire cases see it: bytes out, bytes in, time, and a journal of all of it. A journal that was saved as a
 * trace can stand in for the port: the same case then finds the same again, without the device and without waiting.
 */
#ifndef CONFORMANCE_LINE_H
#define CONFORMANCE_LINE_H

#include "suite.h"

#include "transport/trace.h"
#include "transport/transport.h"

struct line;

/* How the protocol of an adapter travels, and at which line settings. False = no wire cases know it. */
bool line_protocol(const char *adapter, enum transport_way *way, cfoil_line *settings);

/* CFOIL_OK or the port's failure with `error` filled. `trace:FILE` is replayed. `settings`: NULL = those of the
 * protocol. */
int32_t line_open(const char *port, const char *adapter, const cfoil_line *settings, struct line **line,
                  cfoil_error_info *error);
void line_close(struct line *line); /* NULL is harmless */

/* Begins a case: empty journal, time 0, nothing waiting in the port; of modem-control lines, the present state is received
 * first. False = the trace cannot be read. */
bool line_begin(struct line *line);

/* The settings a replayed trace was made with, or "". */
const char *line_trace_settings(const struct line *line);

/* Time moves only when something is sent or received, or a wait ends: that is what makes a journal repeatable. */
uint64_t line_now_us(const struct line *line);
bool line_send(struct line *line, const uint8_t *bytes, uint32_t length);

/* How many bytes came; 0 = none until `until_us`, or the line is gone. */
uint32_t line_receive(struct line *line, uint64_t until_us, uint8_t *bytes, uint32_t capacity);

/* True for a serial port: bytes take their time on the wire after they were written. */
bool line_serial(const struct line *line);

/* NULL, or why nothing more can be sent or received: the port has gone, the trace departs, Ctrl-C. */
const char *line_gone(const struct line *line);

/* ---- Journal ---- */
uint32_t line_journal_count(const struct line *line);
/* The latest `count` records, one a line, each with `indent` in front. */
void line_journal_print(const struct line *line, uint32_t count, const char *indent, FILE *file);
/* Writes a trace; an existing file is replaced. */
int32_t line_journal_save(const struct line *line, const char *path, const char *adapter, const char *settings,
                          cfoil_error_info *error);

#endif
