/* When samples are taken, on the emulator's own clock, and what the firmware's time stamps say of it. */
#ifndef JITTER_H
#define JITTER_H

#include <stdint.h>
#include <stdio.h>

struct jitter {
    uint64_t samples;
    double last_us, sum_us, square_us, least_us, most_us; /* intervals */
    double drift_us;                                      /* greatest error of a time stamp since the first */
    double line_us, first_us; /* when the samples of the current and of the first line were taken */
    uint32_t first_stamp;
};

/* Forgets what was, and what is on its way. */
void jitter_begin(struct jitter *jitter);
/* A sample was taken from the chip. */
void jitter_sample(struct jitter *jitter, double at_us);
/* The first byte of a line goes out: it tells of the last sample, for a line takes less than a period. */
void jitter_line_begins(struct jitter *jitter);
/* The line has gone out. */
void jitter_line(struct jitter *jitter, const char *line);
/* One line of JSON. */
void jitter_print(const struct jitter *jitter, FILE *to);

#endif
