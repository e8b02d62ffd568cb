/* How was the simulator called? Reads the command line, the same for every simulator. */
#include "options.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char usage[] =
    "usage: %s --script FILE [--listen PORT] [--port-file FILE] [--log FILE] [--once]\n"
    "       %*s [--stop-after-ms N] [--check] [--help]\n"
    "  --script FILE      what the device is and what happens to it; tests/simulators/README.md describes it\n"
    "  --listen PORT      TCP port on 127.0.0.1; 0, the usual value, takes any free one\n"
    "  --port-file FILE   write the port number there once clients can connect\n"
    "  --log FILE         write what truly happened there, a JSON object a line\n"
    "  --once             end when the script is through and the client has gone\n"
    "  --stop-after-ms N  end with status 3 after so long, whatever happens\n"
    "  --check            only read the script\n"
    "Ends with 0 when the script ends, 1 on a system error, 2 on a wrong option or script, 3 after waiting in vain.\n";

static void usage_print(FILE *stream, const char *program)
{
    fprintf(stream, usage, program, (int)strlen(program), "");
}

void options_help(const char *program)
{
    usage_print(stdout, program);
}

static bool option_number(const char *text, long most, long *value)
{
    char *end = NULL;
    *value = strtol(text, &end, 10);
    return *text >= '0' && *text <= '9' && *end == '\0' && *value <= most;
}

static bool flag_take(struct options *options, const char *name)
{
    bool *flag = NULL;
    if (strcmp(name, "--once") == 0)
        flag = &options->once;
    else if (strcmp(name, "--check") == 0)
        flag = &options->check;
    else if (strcmp(name, "--help") == 0)
        flag = &options->help;
    if (flag != NULL)
        *flag = true;
    return flag != NULL;
}

static bool value_take(struct options *options, const char *name, const char *value)
{
    if (strcmp(name, "--script") == 0)
        options->script = value;
    else if (strcmp(name, "--port-file") == 0)
        options->port_file = value;
    else if (strcmp(name, "--log") == 0)
        options->log = value;
    else if (strcmp(name, "--listen") == 0)
        return option_number(value, 65535, &options->port);
    else if (strcmp(name, "--stop-after-ms") == 0)
        return option_number(value, 86400000, &options->stop_after_ms);
    else
        return false;
    return true;
}

bool options_read(struct options *options, const char *program, int count, char **arguments)
{
    for (int i = 1; i < count; i++) {
        if (flag_take(options, arguments[i]))
            continue;
        if (i + 1 == count || !value_take(options, arguments[i], arguments[i + 1])) {
            fprintf(stderr, "%s: cannot use '%s'\n", program, arguments[i]);
            usage_print(stderr, program);
            return false;
        }
        i++;
    }
    if (options->script != NULL || options->help)
        return true;
    fprintf(stderr, "%s: --script is missing\n", program);
    usage_print(stderr, program);
    return false;
}
