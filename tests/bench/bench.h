/*
 * Time and percentiles for the benchmarks. Figures are ratios against a floor measured in the same run.
 */
#ifndef BENCH_H
#define BENCH_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static inline uint64_t bench_now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

/* Processor time of the process: what is left of a time when other programs want the processor too. */
static inline uint64_t bench_processor_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

static inline int bench_compare(const void *left, const void *right)
{
    uint64_t a = *(const uint64_t *)left;
    uint64_t b = *(const uint64_t *)right;
    return (a > b) - (a < b);
}

/* Sorts the samples; share is 0.5 for the median, 0.99 for the 99th percentile. */
static inline uint64_t bench_percentile(uint64_t *samples, size_t count, double share)
{
    qsort(samples, count, sizeof *samples, bench_compare);
    size_t index = (size_t)(share * (double)(count - 1) + 0.5);
    return samples[index];
}

/* A folder of its own where TMPDIR says: the disk counts. */
static inline bool bench_folder_make(char *folder, size_t size)
{
    const char *base = getenv("TMPDIR");
    snprintf(folder, size, "%s/counterfoil-bench-XXXXXX", base != NULL ? base : "/tmp");
    return mkdtemp(folder) != NULL;
}

static inline void bench_fail(const char *what)
{
    fprintf(stderr, "benchmark: %s failed\n", what);
    exit(1);
}

#endif
