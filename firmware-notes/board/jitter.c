#include "jitter.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>

#define PERIOD_US 5000.0

void jitter_begin(struct jitter *jitter)
{
    *jitter = (struct jitter){.least_us = INFINITY, .first_us = NAN};
}

void jitter_sample(struct jitter *jitter, double at_us)
{
    double interval = at_us - jitter->last_us;
    jitter->last_us = at_us;
    if (jitter->samples++ == 0)
        return;
    jitter->sum_us += interval;
    jitter->square_us += (interval - PERIOD_US) * (interval - PERIOD_US);
    jitter->least_us = fmin(jitter->least_us, interval);
    jitter->most_us = fmax(jitter->most_us, interval);
}

void jitter_line_begins(struct jitter *jitter)
{
    jitter->line_us = jitter->last_us;
}

void jitter_line(struct jitter *jitter, const char *line)
{
    uint32_t stamp;
    if (jitter->line_us == 0 || sscanf(line, "$PCLIN,%*u,%" SCNu32, &stamp) != 1)
        return;
    if (isnan(jitter->first_us)) {
        jitter->first_us = jitter->line_us;
        jitter->first_stamp = stamp;
    }
    /* The stamp begins anew after 2^32 us. */
    double stamped = (uint32_t)(stamp - jitter->first_stamp);
    double error = remainder(stamped - (jitter->line_us - jitter->first_us), 4294967296.0);
    jitter->drift_us = fmax(jitter->drift_us, fabs(error));
}

void jitter_print(const struct jitter *jitter, FILE *to)
{
    double intervals = jitter->samples > 1 ? (double)(jitter->samples - 1) : NAN;
    double mean = jitter->sum_us / intervals;
    if (isnan(mean)) {
        fprintf(to, "error: too few samples\n");
        return;
    }
    fprintf(to,
            "{\"intervals\": %.0f, \"mean_us\": %.4f, \"rms_us\": %.3f, \"least_us\": %.3f, \"most_us\": %.3f, "
            "\"stamp_error_us\": %.3f}\n",
            intervals, mean, sqrt(jitter->square_us / intervals), jitter->least_us, jitter->most_us, jitter->drift_us);
}
