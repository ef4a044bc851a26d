/* The accelerometer of the emulated board: what it measures, and how it answers on the bus.
 *
 * Its register map is the invented one of the reference firmware, written down a second time on purpose: a slip in one
 * of the two shows. */
#ifndef CHIP_H
#define CHIP_H

#include <simavr/sim_avr.h>
#include <stdbool.h>
#include <stdint.h>

enum trouble {
    TROUBLE_NONE,
    TROUBLE_NACK,   /* it knows its address and refuses everything else */
    TROUBLE_MUTE,   /* it does not answer at all */
    TROUBLE_FROZEN, /* it answers, and measures nothing new */
};

struct chip {
    avr_t *avr;
    avr_irq_t *bus;
    enum trouble trouble;
    double chord_deg, span_deg, celsius;
    double noise; /* standard deviation, counts */
    uint64_t dice;
    uint8_t control;
    bool selected, told; /* it was addressed; it was told a register */
    uint8_t at;          /* that register */
    uint8_t registers[11];
    uint64_t last_read; /* number of the conversion that was read last */
    /* Called with the cycle at which a sample was taken out. */
    void (*sampled)(avr_cycle_count_t at);
};

/* Puts the chip on the bus of the controller. */
void chip_attach(struct chip *chip, avr_t *avr);

/* As after a loss of its supply. */
void chip_power_on(struct chip *chip);

#endif
