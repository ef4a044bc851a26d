/* Reference firmware of a clip-on sensor for clinoblade, for an 8-bit AVR (ATmega328P and its kin) with a three-axis
 * accelerometer on its two-wire bus. It sends the sentences of ../wire-format.md.
 *
 * Timer 1 beats 200 times a second. With every beat the chip is read once, and one line goes into the buffer of the
 * serial port. What goes wrong is said in a line of its own, and tried again with the next beat, for ever. */

#include "bus.h"
#include "clock.h"
#include "line.h"
#include "sensor.h"
#include "serial.h"
#include "settings.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <stdbool.h>

/* A chip that is read so often without anything new does not measure: 20 ms. */
#define STALE_BEATS (SAMPLE_HZ / 50)
/* A fault that lasts is repeated five times a second. */
#define REPORT_BEATS (SAMPLE_HZ / 5)

static uint8_t reset_cause __attribute__((section(".noinit")));

/* Before anything else: a watchdog that has bitten stays on, and quick. */
void keep_reset_cause(void) __attribute__((naked, used, section(".init3")));
void keep_reset_cause(void)
{
    reset_cause = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

static const char *word_for(enum fault fault)
{
    switch (fault) {
    case FAULT_CLOCK_HELD:
        return "clock-held";
    case FAULT_DATA_HELD:
        return "data-held";
    case FAULT_NO_ANSWER:
        return "no-answer";
    case FAULT_REFUSED:
        return "refused";
    case FAULT_WRONG_CHIP:
        return "wrong-chip";
    case FAULT_NO_NEW_DATA:
        return "no-new-data";
    case FAULT_WATCHDOG:
        return "watchdog";
    default:
        return "unknown";
    }
}

static struct line line;

static void send_sample(uint16_t seq, uint32_t micros, const struct sample *sample)
{
    line_begin(&line, "PCLIN");
    line_unsigned(&line, seq);
    line_unsigned(&line, micros);
    for (uint8_t axis = 0; axis < 3; axis++)
        line_signed(&line, sample->axis[axis]);
    line_hundredths(&line, sample->centicelsius);
    line_end(&line);
    serial_send(line.text, line.length); /* no room: the gap in `seq` tells */
}

static void send_fault(uint16_t seq, uint32_t micros, enum fault fault)
{
    line_begin(&line, "PCLIF");
    line_unsigned(&line, seq);
    line_unsigned(&line, micros);
    line_word(&line, word_for(fault));
    line_end(&line);
    serial_send(line.text, line.length);
}

/* The sensor's state from beat to beat. */
static bool running;  /* it was started, and nothing has gone wrong since */
static uint8_t stale; /* beats without anything new */

/* One beat: whether there is a sample, or what is wrong. */
static enum fault beat(struct sample *sample, bool *fresh)
{
    enum fault fault;
    *fresh = false;
    if (!running) {
        fault = sensor_begin(); /* the first sample comes with the next beat */
        stale = 0;
    } else {
        fault = sensor_read(sample, fresh);
        stale = *fresh ? 0 : stale + 1;
        if (!fault && stale >= STALE_BEATS)
            fault = FAULT_NO_NEW_DATA;
    }
    running = fault == FAULT_NONE;
    return fault;
}

int main(void)
{
    uint16_t seq = 0;
    uint8_t pause = 0; /* beats until a fault is worth a line */

    wdt_enable(WDTO_250MS);
    serial_begin();
    bus_begin();
    clock_begin();
    sei();
    if (reset_cause & _BV(WDRF))
        send_fault(0, 0, FAULT_WATCHDOG);

    for (;;) {
        struct sample sample;
        bool fresh;
        seq += clock_wait();
        wdt_reset();
        uint32_t micros = clock_micros();
        enum fault fault = beat(&sample, &fresh);
        if (fresh) {
            send_sample(seq, micros, &sample);
            pause = 0;
            continue;
        }
        if (pause > 0)
            pause--;
        if (fault && pause == 0) {
            send_fault(seq, micros, fault);
            pause = REPORT_BEATS;
        }
    }
}
