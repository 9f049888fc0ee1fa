using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings;

/// <summary>An element that was meant to act on a press and was not heard to.</summary>
internal sealed class Silence
{
    private readonly EyeGlance _view;

    /// <param name="view">The press as it must have seen it.</param>
    /// <param name="owed">It would have been heard.</param>
    /// <param name="heardBefore">Answers heard before.</param>
    public Silence(in EyeGlance view, bool owed, int heardBefore) => (_view, Owed, HeardBefore) = (view, owed, heardBefore);

    /// <summary>The press as it must have seen it.</summary>
    public ref readonly EyeGlance View => ref _view;

    /// <summary>Row of the press.</summary>
    public int Press => _view.Press;

    /// <summary>Its unicast address.</summary>
    public MeshAddress Element => _view.Element;

    /// <summary>It would have been heard: it was asked for a Status, or it publishes and had another state.</summary>
    public bool Owed { get; }

    /// <summary>So many answers that the element gave to presses to groups had been heard before: the same number for silences that follow each other without an answer between.</summary>
    public int HeardBefore { get; }

    /// <summary>Chance that its answers were on the air and the receivers missed them all.</summary>
    public double MissChance { get; init; } = 1;

    /// <summary>Its sequence numbers run on without a gap over that time: it sent nothing.</summary>
    public bool NothingSent { get; init; }

    /// <summary>Its node was not heard at all: the chance is taken from the worst heard of the others that were asked, so it is a guess.</summary>
    public bool NeverHeard { get; init; }
}
