/* How was the simulator called? */
#ifndef SIMULATOR_OPTIONS_H
#define SIMULATOR_OPTIONS_H

#include <stdbool.h>

struct options {
    const char *script, *port_file, *log;
    long port, stop_after_ms;
    bool once, check, help;
};

/* False after saying on stderr what is wrong. */
bool options_read(struct options *options, const char *program, int count, char **arguments);
void options_help(const char *program);

#endif
