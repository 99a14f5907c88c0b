package android.app;

public class NativeActivity extends Activity {}
