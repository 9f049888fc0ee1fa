namespace MeshTrace.Captures.Live;

/// <summary>Nothing can be received: what is wrong, and what to do.</summary>
public sealed class CaptureLiveException : Exception
{
    /// <param name="what">What is wrong, safe to show, without final stop.</param>
    /// <param name="remedy">What to do about it, one sentence.</param>
    /// <param name="inner">What the program met, for developers.</param>
    public CaptureLiveException(string what, string remedy, Exception? inner = null) : base(what, inner) => Remedy = remedy;

    public string Remedy { get; }
}
