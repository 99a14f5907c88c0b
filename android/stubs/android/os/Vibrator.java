package android.os;

public abstract class Vibrator {
    public abstract boolean hasVibrator();

    public void vibrate(VibrationEffect vibe) {}
}
