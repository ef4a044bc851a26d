/* The two wires of the bus between the controller and the chip: somebody can hold them low. */
#ifndef WIRES_H
#define WIRES_H

#include <simavr/sim_avr.h>
#include <stdbool.h>

struct wires {
    bool clock_held, data_held;
    int clocks_left; /* so many clocks until the data line is let go; 0: never */
};

/* Puts the wires between the controller's registers and the controller. */
void wires_attach(struct wires *wires, avr_t *avr);
void wires_hold_clock(struct wires *wires);
void wires_hold_data(struct wires *wires, int clocks);
void wires_let_go(struct wires *wires);

#endif
