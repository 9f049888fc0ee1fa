using MeshTrace.Synthesis.Nodes;

namespace MeshTrace.Synthesis.Truth;

/// <summary>A change in the life of the network or of one node.</summary>
/// <param name="TimeUs">When.</param>
/// <param name="What">Its name in the truth file.</param>
/// <param name="Node">Whom it happened to.</param>
/// <param name="With">The other node that has part in it, or null.</param>
/// <param name="Values">Numbers that go with it.</param>
internal sealed record LifecycleTruth(long TimeUs, string What, MeshNode Node, MeshNode? With, (string Name, long Value)[] Values);
