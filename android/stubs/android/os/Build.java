package android.os;

public class Build {
    public static class VERSION {
        // Not a constant to the compiler, as on the device.
        public static final int SDK_INT = Integer.parseInt("0");
    }
}
