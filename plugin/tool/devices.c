/*
 * counterfoil devices: which ports are there, and who could be behind them?
 */
#include "commands.h"
#include "host.h"

#include <stdio.h>
#include <stdlib.h>

struct devices_wish {
    cfoil_context *context;
    const cfoil_devices_options *options;
};

static int32_t devices_source(void *user, char *buffer, size_t capacity, size_t *needed)
{
    const struct devices_wish *wish = user;
    return cfoil_devices_json(wish->context, wish->options, buffer, capacity, needed);
}

int devices_run(const struct arguments *arguments)
{
    int64_t seconds = 0;
    if (!arguments_whole(arguments, OPTION_SECONDS, 1, 10, &seconds))
        return TOOL_USAGE;
    cfoil_devices_options options = CFOIL_DEVICES_OPTIONS_INIT;
    options.wait_ms = (uint32_t)seconds * 1000u;
    options.listen_port = arguments->values[OPTION_LISTEN];
    options.probe_port = arguments->values[OPTION_PROBE];
    struct host host;
    int code = host_open(arguments, LEDGER_READ, &host);
    if (code != TOOL_OK)
        return code;
    struct devices_wish wish = {host.context, &options};
    int32_t result;
    char *text = text_fetch(devices_source, &wish, &result);
    if (text != NULL)
        printf("%s\n", text);
    else
        code = failure_report(host.context, result, "cannot list the devices");
    free(text);
    host_close(&host);
    return code;
}
