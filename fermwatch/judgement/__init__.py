"""What is judged of a batch: where its gravity is going, its phase, its forecast and whether it may be bottled.

Pure: values and `now` go in, values come out; numpy only. Inside this room gravity is counted in points above 1.000
(a point is 0.001 SG), time in hours since pitch, and a negative rate is falling. `judge.Judge` is the way in.
"""
