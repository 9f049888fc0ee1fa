namespace MeshTrace.Analysis.Floods;

/// <summary>How far it can be said which node transmitted a copy. The address is no part of the Network PDU, so nothing here is ever certain.</summary>
public enum SenderConfidence : byte
{
    /// <summary>A node of the network, not known which.</summary>
    Unknown,

    /// <summary>One node fits, but another one that was not heard would fit as well. Nobody is named for it.</summary>
    Possible,

    /// <summary>One node fits, and what speaks against it was looked for and not found.</summary>
    Likely,
}
