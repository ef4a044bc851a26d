/* What can be wrong between this board and its accelerometer. */
#ifndef FAULT_H
#define FAULT_H

enum fault {
    FAULT_NONE,
    FAULT_CLOCK_HELD,  /* something holds the bus' clock line low */
    FAULT_DATA_HELD,   /* something holds the bus' data line low */
    FAULT_NO_ANSWER,   /* nobody acknowledges the chip's address */
    FAULT_REFUSED,     /* the chip does not acknowledge what it is sent */
    FAULT_WRONG_CHIP,  /* another chip than this program is written for */
    FAULT_NO_NEW_DATA, /* the chip answers, but measures nothing */
    FAULT_WATCHDOG,    /* this program hung and was started again */
};

#endif
