using System.Runtime.CompilerServices;

namespace MeshTrace.Protocol.Security;

/// <summary>
/// Eight values side by side, on the stack where their owner is: as many AES blocks as are under way together. The processors of today finish a round
/// after three to five steps and begin one or two in each, so eight blocks leave none of its steps empty, and fit its registers with a key beside them.
/// </summary>
[InlineArray(Count)]
internal struct Eight<T>
{
    public const int Count = 8;
    private T _first;
}
