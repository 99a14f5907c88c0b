package android.os;

public abstract class VibrationEffect implements Parcelable {
    public static VibrationEffect createWaveform(long[] timings, int repeat) {
        return null;
    }
}
