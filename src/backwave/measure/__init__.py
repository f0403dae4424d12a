"""What is played, what a recording of it says, and what to set: sweep, response, distortion, rattle, tuning, impedance.

From arrays of samples against full scale, rates and frequencies in Hz, times in s, levels in dB, impedances in ohm, all
else SI.  It reads and writes no file.  A room: stands on the ground and knows no other room; a model that is fitted to
a reading is handed over as a function.  scipy is imported inside, when first used.

sweep             the sweep as a formula, the take between two pilots, its description
signals           noise, pulses, level tones, beeps; gates on the first sound and on hearing
synchronize       where a take lies in a recording, and the recorder's clock
response          deconvolution, harmonics, windows, signal over noise; arrival and polarity by two methods
recording_checks  recordings that cannot be used, or only with care
analysis          a recording whole: responses, distortion, what rattles; the mean of several places
averaging         a response in few numbers; several readings as one; differences that are more than chance
rattle            what does not repeat with the drive of a slow sweep
equalizer         a few bounded filters toward a target; fixed bands
alignment         target, table of settings, delays and levels, the joint of two channels
impedance         two channels over a known resistor; parameters, Vas and moving mass with their uncertainty
model_fit         unknowns of a model fitted to a reading within bounds
"""
