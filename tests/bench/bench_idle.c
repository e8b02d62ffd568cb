/*
 * Processor time of a lane that polls an idle device, as a share of one core.
 *   bench_idle PORT SECONDS
 */
#include "bench.h"

#include <counterfoil/counterfoil.h>
#include <sys/resource.h>

static double processor_seconds(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
           (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6;
}

static void ready_wait(cfoil_lane *lane)
{
    cfoil_event event = CFOIL_EVENT_INIT;
    do {
        if (cfoil_lane_wait(lane, 20000, &event) != CFOIL_OK)
            bench_fail("waiting for the device");
    } while (event.lane_state != CFOIL_LANE_ACCEPTING);
}

int main(int count, char **arguments)
{
    if (count != 3)
        bench_fail("usage: bench_idle PORT SECONDS;");
    cfoil_context *context;
    cfoil_lane *lane;
    cfoil_lane_options options = CFOIL_LANE_OPTIONS_INIT;
    options.adapter = "cctalk";
    options.port = arguments[1];
    options.accept = CFOIL_ACCEPT_HOLD;
    if (cfoil_context_open(NULL, &context) != CFOIL_OK || cfoil_lane_open(context, &options, &lane) != CFOIL_OK)
        bench_fail("opening a lane");
    ready_wait(lane);
    uint32_t seconds = (uint32_t)strtoul(arguments[2], NULL, 10);
    double begin = processor_seconds();
    uint64_t begin_ns = bench_now_ns();
    cfoil_event event = CFOIL_EVENT_INIT;
    while (bench_now_ns() - begin_ns < seconds * UINT64_C(1000000000))
        (void)cfoil_lane_wait(lane, 1000, &event);
    double share = (processor_seconds() - begin) / ((double)(bench_now_ns() - begin_ns) / 1e9);
    printf("idle    %.3f %% of a core while polling every 200 ms for %u s\n", 100 * share, seconds);
    cfoil_context_close(context);
    return 0;
}
